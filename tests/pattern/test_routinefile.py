"""Routine files: every problem at once, comments kept, music that moved or changed noticed."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.errors import CoachError, CoachErrors
from tempo_coach.music.corrections import Correction
from tempo_coach.music.countmap import CountMap, Place
from tempo_coach.pattern.routine import (
    Laid,
    MusicFile,
    Note,
    Routine,
    RoutineMoment,
    Steps,
    check_fit,
    eights_of,
    position_of,
)
from tempo_coach.pattern.routinefile import find_music, read_routine
from tempo_coach.pattern.routinewriter import write_routine
from tempo_coach.resources import content_hash

WRITTEN = """\
# The spring routine. An invented one.
title = "Ball, spring"   # she may rename it
apparatus = "ball"

[music]
file = "ball.wav"        # from the old disc
sha256 = "00"
tempo_bpm = 118

[movement]
first = { eight = 1, count = 3 }   # she waits two counts
last = { eight = 12, count = "8" }

# by hand, in May
[[correction]]
do = "one"
at = 12.4                # the drum enters

[[correction]]
do = "pause"
at = 30
to = 33.5
# the long one

[[lay]]
drill = "ball_bounces"
eight = 3                # and again later

[[moment]]
what = "toss"
eight = 5
count = "7&"
hand = "right"

[[steps]]
start = { eight = 8 }
end = { eight = 11, count = "1" }

[[remark]]
eight = 4
text = "chin up"
"""


@pytest.fixture
def written(tmp_path):
    path = tmp_path / "spring.toml"
    path.write_text(WRITTEN, encoding="utf-8")
    return path


def test_a_routine_is_read_as_it_is_written(written):
    routine = read_routine(written)
    assert routine == Routine(
        title="Ball, spring",
        apparatus="ball",
        music=MusicFile("ball.wav", "00", 118.0),
        corrections=(Correction("one", 12.4), Correction("pause", 30.0, to=33.5)),
        first=Place(1, 3),
        last=Place(12, 8),
        laid=(Laid("ball_bounces", Place(3, 1)),),
        moments=(RoutineMoment("toss", Place(5, 7.5), "right"),),
        steps=(Steps(Place(8, 1), Place(11, 1)),),
        remarks=(Note(4, "chin up"),),
    )


def test_writing_what_was_read_changes_not_a_letter(written):
    write_routine(written, read_routine(written))
    assert written.read_text(encoding="utf-8") == WRITTEN


def test_a_further_correction_keeps_every_comment_and_line(written):
    from dataclasses import replace

    routine = read_routine(written)
    more = replace(
        routine,
        corrections=(*routine.corrections, Correction("move", 40.0, to=40.1)),
        first=Place(1, 1),
        music=replace(routine.music, content_hash="11"),
    )
    write_routine(written, more)
    text = written.read_text(encoding="utf-8")
    for line in WRITTEN.splitlines():
        if "#" in line and "she waits" not in line:
            assert line.split("#")[1].strip() in text, line
    assert 'sha256 = "11"' in text
    assert read_routine(written) == more


def test_undoing_a_correction_takes_out_that_one_only(written):
    from dataclasses import replace

    routine = read_routine(written)
    write_routine(written, replace(routine, corrections=routine.corrections[:1], remarks=()))
    text = written.read_text(encoding="utf-8")
    assert "pause" not in text and "# the drum enters" in text and "chin up" not in text
    write_routine(written, replace(routine, corrections=routine.corrections[1:]))
    assert read_routine(written).corrections == routine.corrections[1:]


def test_every_problem_of_a_file_is_said_with_its_line(tmp_path):
    path = tmp_path / "bad.toml"
    path.write_text(
        """\
title = 3
aparatus = "ball"
kind = "pair"

[music]
sha256 = "x"

[[correction]]
do = "mowe"
at = 1

[[correction]]
do = "move"
at = -1

[[correction]]
do = "pause"
at = 2

[[lay]]
drill = "ball_bounces"
eight = 0
count = "x"

[[steps]]
start = { eight = 3 }
end = { eight = 3 }
"""
    )
    with pytest.raises(CoachErrors) as caught:
        read_routine(path)
    said = str(caught.value)
    for words in (
        "bad.toml:1: title",
        "bad.toml:2: aparatus: this entry is not known; did you mean apparatus?",
        "bad.toml:3: kind: expected alone or group",
        "music.file: expected the entry file",
        "bad.toml:9: correction.do: expected level",
        "bad.toml:14: correction.at: expected a number from 0",
        "bad.toml:17: correction.do: correction pause: expected to",
        "bad.toml:22: lay.eight: expected a whole number from 1",
        "bad.toml:23: lay.count: expected a count such as",
        "bad.toml:27: steps.end: expected the steps to end after they start",
    ):
        assert words in said, said


def test_no_file_no_toml_and_a_folder_are_said(tmp_path):
    with pytest.raises(CoachError, match="no such file"):
        read_routine(tmp_path / "gone.toml")
    with pytest.raises(CoachError, match="folder"):
        read_routine(tmp_path)
    broken = tmp_path / "broken.toml"
    broken.write_text("title = \n")
    with pytest.raises(CoachError, match=r"broken\.toml:1"):
        read_routine(broken)
    with pytest.raises(CoachError, match="no TOML"):
        write_routine(broken, Routine("x", MusicFile("x.wav")))
    assert broken.read_text() == "title = \n"


places = st.builds(Place, st.integers(1, 40), st.sampled_from([1.0, 2.5, 4.25, 7.75, 8.0, 1 + 2 / 3]))
texts = st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), max_size=12)
routines = st.builds(
    Routine,
    title=texts.filter(str.strip),
    music=st.builds(MusicFile, st.just("a b/ü.wav"), st.just("ab"), st.none() | st.just(120.0), st.none() | st.just(3)),
    apparatus=st.sampled_from(["rope", "none"]),
    kind=st.sampled_from(["alone", "group"]),
    notes=texts,
    corrections=st.lists(
        st.builds(
            Correction,
            do=st.sampled_from(["one", "move", "tapped", "length", "level"]),
            at=st.integers(0, 900).map(lambda k: k / 10),
            to=st.just(4.5),
            counts=st.integers(1, 12),
            tempo_bpm=st.just(118.5),
            times=st.just((1.0, 1.5)),
        ),
        max_size=4,
    ).map(tuple),
    first=st.none() | places,
    last=st.none() | places,
    laid=st.lists(st.builds(Laid, st.just("x"), places, st.integers(1, 4), texts, st.booleans()), max_size=3).map(
        tuple
    ),
    moments=st.lists(
        st.builds(RoutineMoment, st.sampled_from(["toss", "other"]), places, texts, texts), max_size=3
    ).map(tuple),
    remarks=st.lists(st.builds(Note, st.integers(1, 9), texts.filter(str.strip)), max_size=2).map(tuple),
)


@given(routines, routines)
def test_any_routine_comes_back_also_when_it_is_written_over_another_one(tmp_path_factory, first, second):
    path = tmp_path_factory.mktemp("routines") / "r.toml"
    for routine in (first, second):
        write_routine(path, routine)
        back = read_routine(path)
        for a, b in zip(back.laid + back.moments, routine.laid + routine.moments, strict=True):
            assert a.at.eight == b.at.eight and a.at.count == pytest.approx(b.at.count, abs=1e-6)
        assert (back.title, back.music, back.corrections) == (routine.title, routine.music, routine.corrections)
        assert (back.notes, back.kind, back.apparatus) == (routine.notes, routine.kind, routine.apparatus)
        assert [each.text for each in back.moments] == [each.text for each in routine.moments]
        assert back.remarks == routine.remarks


def test_music_that_moved_beside_the_routine_is_found_and_said(tmp_path):
    (tmp_path / "old").mkdir()
    (tmp_path / "ball.wav").write_bytes(b"another one")
    music = tmp_path / "old" / "renamed.wav"
    music.write_bytes(b"the music")
    kept = MusicFile("music/ball.wav", content_hash(music))
    found = find_music(tmp_path / "spring.toml", kept)
    assert found.path == music
    assert "moved from music/ball.wav to old/renamed.wav" in found.said[0]


def test_music_that_changed_is_said_and_used_and_music_that_is_gone_is_an_error(tmp_path):
    music = tmp_path / "ball.wav"
    music.write_bytes(b"the music")
    routine = tmp_path / "spring.toml"
    assert find_music(routine, MusicFile("ball.wav", content_hash(music))).said == ()
    assert "has changed" in find_music(routine, MusicFile("ball.wav", "00")).said[0]
    with pytest.raises(CoachError, match="the music is gone"):
        find_music(routine, MusicFile("other.wav", "00"))


def test_places_behind_the_music_and_counts_that_an_eight_lacks_are_said():
    counts = CountMap(0.5 * np.arange(32), ((0, 8), (8, 4), (12, 8), (20, 8), (28, 8)))
    routine = Routine(
        "x",
        MusicFile("x.wav"),
        first=Place(1, 1),
        last=Place(9, 8),
        moments=(RoutineMoment("toss", Place(2, 6)),),
        corrections=(Correction("one", 99.0),),
    )
    said = check_fit(routine, counts, 16.0)
    assert len(said) == 3
    assert "the last movement is set on eight 9" in said[0]
    assert "the toss is set on count 6 of eight 2, which has 4 counts" in said[1]
    assert "99.00 s lies behind the end" in said[2]
    assert check_fit(Routine("x", MusicFile("x.wav")), counts, 16.0) == []


def test_eights_and_places_follow_the_bridge():
    counts = CountMap(0.5 * np.arange(32), ((0, 8), (8, 4), (12, 8)))
    assert eights_of(counts, 16.0) == [(1, 0.0, 8), (2, 8.0, 4), (3, 12.0, 8), (4, 20.0, 8), (5, 28.0, 8)]
    assert position_of(counts, Place(3, 1)) == 12
    routine = Routine("x", MusicFile("x.wav"), first=Place(2, 1), last=Place(3, 8))
    assert (routine.first_movement(counts), routine.last_movement(counts)) == (4.0, 9.5)


@pytest.mark.parametrize("wrong", [Place(0, 1), Place(1, 0.5), Place(1, float("nan"))])
def test_a_place_before_the_first_count_is_the_callers_bug(wrong):
    with pytest.raises(ValueError, match="from 1"):
        Laid("x", wrong)

"""Writing a routine: comments and order stay, and what is written is what is read back."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.music.counts.corrections import Correction
from tempo_coach.music.counts.count_map import Position
from tempo_coach.pattern.routine.routine import Laid, MusicFile, Remark, Routine, RoutineMoment
from tempo_coach.pattern.routine.routine_file import read_routine
from tempo_coach.pattern.routine.routine_writer import write_routine
from tests.pattern.written import WRITTEN
from tests.refused import refused


@pytest.fixture
def written(tmp_path):
    path = tmp_path / "spring.toml"
    path.write_text(WRITTEN, encoding="utf-8")
    return path


def test_writing_what_was_read_changes_not_a_letter(written):
    write_routine(written, read_routine(written))
    assert written.read_text(encoding="utf-8") == WRITTEN


def test_a_further_correction_keeps_every_comment_and_line(written):
    routine = read_routine(written)
    more = replace(
        routine,
        corrections=(*routine.corrections, Correction("move", 40.0, to=40.1)),
        first=Position(1, 1),
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
    routine = read_routine(written)
    write_routine(written, replace(routine, corrections=routine.corrections[:1], remarks=()))
    text = written.read_text(encoding="utf-8")
    assert "pause" not in text and "# the drum enters" in text and "chin up" not in text
    write_routine(written, replace(routine, corrections=routine.corrections[1:]))
    assert read_routine(written).corrections == routine.corrections[1:]


def test_a_file_that_is_no_toml_is_not_written_over(tmp_path):
    broken = tmp_path / "broken.toml"
    broken.write_text("title = \n")
    with refused("no TOML"):
        write_routine(broken, Routine("x", MusicFile("x.wav")))
    assert broken.read_text() == "title = \n"
    assert [path.name for path in tmp_path.iterdir()] == ["broken.toml"]


places = st.builds(Position, st.integers(1, 40), st.sampled_from([1.0, 2.5, 4.25, 7.75, 8.0, 1 + 2 / 3]))
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
    remarks=st.lists(st.builds(Remark, st.integers(1, 9), texts.filter(str.strip)), max_size=2).map(tuple),
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

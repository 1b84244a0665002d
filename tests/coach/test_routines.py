"""Routines: begun, written, opened, corrected, ruled, put on a sheet; and heard where music is asked for."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.errors import CoachError
from tempo_coach.music.counts.corrections import Correction
from tempo_coach.music.counts.count_map import Position
from tempo_coach.music.files.sound import Sound
from tempo_coach.music.files.sound_file import write_sound
from tempo_coach.pattern.drill.drill_file import find_drill
from tempo_coach.pattern.routine.routine import Laid, MusicFile
from tempo_coach.pattern.routine.rules import read_code
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.words.errors import hint_of, message_of
from tempo_coach.report.words.reasons import say_note, say_reason
from tempo_coach.resources import content_hash
from tests.refused import into

RATE_HZ = 8000
#: Three eights of clicks, half a second each; the counts that are known lie 0.2 s before them.
CLICKS = 0.7 + 0.5 * np.arange(24)
KNOWN = CLICKS - 0.2


def write_clicks(path: Path, *, shift: float = 0.0) -> Path:
    samples = np.zeros(13 * RATE_HZ)
    seconds = np.arange(400) / RATE_HZ
    for beat in CLICKS + shift:
        first = round(beat * RATE_HZ)
        samples[first : first + 400] = 0.5 * np.sin(2 * np.pi * 1000 * seconds) * np.exp(-seconds / 0.012)
    write_sound(path, Sound(samples[:, None], RATE_HZ), overwrite=True)
    return path


def write_beats(path: Path, times: np.ndarray) -> Path:
    path.write_text("".join(f"{time:.6f}\n" for time in times))
    return path


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    path = tmp_path / "Kür 音 mit Musik"
    path.mkdir()
    write_clicks(path / "my music é.wav")
    return path


@pytest.fixture
def begun(folder: Path) -> coach.OpenRoutine:
    known = write_beats(folder / "beats.txt", KNOWN)
    return coach.begin_routine(folder / "my_new routine.toml", folder / "my music é.wav", known=known)


def lay_on(opened: coach.OpenRoutine, *laid: Laid) -> coach.OpenRoutine:
    return replace(opened, routine=replace(opened.routine, laid=laid))


def test_a_new_one_is_named_after_its_file_and_not_written_yet(folder: Path) -> None:
    music = folder / "my music é.wav"
    path = folder / "my_new routine.toml"
    opened = coach.begin_routine(path, music, tempo_bpm=120, meter=4, one_at=1.2)
    assert not path.exists()
    assert opened.routine.title == "my new routine"
    assert opened.routine.music == MusicFile("my music é.wav", content_hash(music), 120, 4, 1.2)
    assert (opened.routine.corrections, opened.said) == ((), ())
    np.testing.assert_allclose(opened.counts.beats, CLICKS, atol=0.01)
    np.testing.assert_array_equal(opened.counts.beats, opened.heard.counts.beats)
    assert opened.counts.seconds_at(0) == pytest.approx(1.2, abs=0.01)


def test_the_hints_are_written_and_used_again(folder: Path) -> None:
    path = folder / "in fives.toml"
    coach.save_routine(coach.begin_routine(path, folder / "my music é.wav", meter=5, one_at=1.2))
    beats = coach.open_routine(path).heard.beats
    ones = beats.times[beats.bar == 1]
    assert ones[0] == pytest.approx(1.2, abs=0.01)
    assert np.diff(ones) == pytest.approx(2.5, abs=0.01)


def test_known_beats_of_a_part_are_all_the_counts_there_are(folder: Path) -> None:
    known = write_beats(folder / "first half.txt", KNOWN[:16])
    path = folder / "half.toml"
    coach.save_routine(coach.begin_routine(path, folder / "my music é.wav", known=known))
    np.testing.assert_allclose(coach.open_routine(path).counts.beats, KNOWN[:16], atol=1e-3)


def test_known_beats_become_corrections_and_so_outlive_their_file(begun: coach.OpenRoutine, folder: Path) -> None:
    assert [each.do for each in begun.routine.corrections] == ["tapped", "one"]
    np.testing.assert_allclose(begun.counts.beats, KNOWN, atol=1e-6)
    coach.save_routine(begun)
    (folder / "beats.txt").unlink()
    opened = coach.open_routine(begun.path)
    np.testing.assert_allclose(opened.counts.beats, KNOWN, atol=1e-3)
    np.testing.assert_allclose(opened.heard.counts.beats, CLICKS, atol=0.01)  # as found
    assert opened.counts.eights == begun.counts.eights == ((0, 8), (8, 8), (16, 8))


def test_taps_become_corrections_that_lie_on_the_music(folder: Path) -> None:
    taps = write_beats(folder / "taps.txt", CLICKS + 0.04)
    opened = coach.begin_routine(folder / "tapped.toml", folder / "my music é.wav", taps=taps)
    assert [each.do for each in opened.routine.corrections] == ["tapped", "one"]
    np.testing.assert_allclose(opened.counts.beats, CLICKS, atol=0.01)


def test_music_without_a_beat_begins_a_routine_too(folder: Path) -> None:
    write_sound(folder / "silence.wav", Sound(np.zeros((6 * RATE_HZ, 1)), RATE_HZ))
    said: list[str] = []
    opened = coach.begin_routine(folder / "even.toml", folder / "silence.wav", warn=into(said))
    np.testing.assert_allclose(opened.counts.beats, np.arange(0.0, 6.0, 60 / coach.EVEN_BPM))
    assert len(said) == 1 and "to be put right by hand" in said[0]
    said.clear()
    coach.open_routine(coach.save_routine(opened).path, warn=into(said))
    assert len(said) == 1


def test_hearing_tells_its_progress(folder: Path) -> None:
    """With hints of their own, for the same music with the same hints is heard once in a run of the tests."""
    told: list[float] = []
    path = folder / "routine.toml"
    opened = coach.begin_routine(path, folder / "my music é.wav", tempo_bpm=121, progress=told.append)
    assert told[-1] == 1
    told.clear()
    music = replace(opened.routine.music, tempo_bpm=122)
    coach.save_routine(replace(opened, routine=replace(opened.routine, music=music)))
    coach.open_routine(path, progress=told.append)
    assert told[-1] == 1


def test_written_and_opened_it_is_the_same(begun: coach.OpenRoutine) -> None:
    saved = coach.save_routine(lay_on(begun, Laid("clubs_mills", Position(2, 3.0), 1, "left", True)))
    opened = coach.open_routine(str(saved.path))
    assert opened.routine == saved.routine
    assert opened.path == saved.path
    assert opened.said == ()
    np.testing.assert_allclose(opened.counts.beats, saved.counts.beats, atol=1e-3)


def test_written_elsewhere_it_still_finds_its_music(begun: coach.OpenRoutine, folder: Path) -> None:
    (folder / "kept here").mkdir()
    saved = coach.save_routine(replace(begun, path=folder / "kept here" / "routine.toml"))
    assert saved.routine.music.path == "../my music é.wav"
    assert saved.routine.music.content_hash == content_hash(folder / "my music é.wav")
    assert Path(coach.open_routine(saved.path).heard.path).samefile(folder / "my music é.wav")


def test_music_that_moved_or_changed_is_said_and_the_change_is_written(begun: coach.OpenRoutine, folder: Path) -> None:
    saved = coach.save_routine(begun)
    music = folder / "my music é.wav"
    music.rename(folder / "other name.wav")
    moved = coach.open_routine(saved.path)
    assert Path(moved.heard.path) == folder / "other name.wav"
    assert len(moved.said) == 1 and moved.said[0].args[-1] == "other name.wav"
    assert coach.save_routine(moved).routine.music.path == "other name.wav"
    assert coach.open_routine(saved.path).said == ()
    write_clicks(folder / "other name.wav", shift=0.01)
    changed = coach.open_routine(saved.path)
    assert len(changed.said) == 1 and changed.said[0].code is Why.MUSIC_CHANGED
    coach.save_routine(changed)
    assert coach.open_routine(saved.path).said == ()


def test_a_correction_without_a_place_and_drills_beyond_the_music_are_said_in_order(begun: coach.OpenRoutine) -> None:
    lost = Correction("one", 900.0)
    routine = replace(
        begun.routine, corrections=(*begun.routine.corrections, lost), laid=(Laid("x", Position(9, 1.0)),)
    )
    opened = coach.correct_routine(begun.path, routine, begun.heard, said=(Reason(Why.RESCUED, ("a.toml",)),))
    assert opened.said[0].args == ("a.toml",)
    assert opened.said[1].code is Why.CORRECTION_LOST and opened.said[1].args[0] == lost
    assert "no count is near 900.00 s" in say_reason(opened.said[1])
    assert opened.said[2].args[:3] == ("drill", "x", 9)
    np.testing.assert_array_equal(opened.counts.beats, begun.counts.beats)
    said: list[str] = []
    heard = coach.counts_of(opened, warn=into(said))
    assert said == [f"{begun.path}: {say_note(each)}" for each in opened.said]
    np.testing.assert_array_equal(heard.counts.beats, opened.counts.beats)
    assert coach.counts_of(opened).sound is begun.heard.sound


def test_a_sound_file_and_a_routine_are_both_heard_as_counts(begun: coach.OpenRoutine, folder: Path) -> None:
    music = folder / "my music é.wav"
    np.testing.assert_array_equal(coach.hear_counts(music).counts.beats, coach.hear(music).counts.beats)
    assert np.diff(coach.hear_counts(music, tempo_bpm=60).counts.beats) == pytest.approx(1.0, abs=0.01)
    said: list[str] = []
    saved = coach.save_routine(lay_on(begun, Laid("clubs_mills", Position(9, 1.0))))
    loud = saved.path.rename(saved.path.with_suffix(".TOML"))
    heard = coach.hear_counts(loud, warn=into(said))
    np.testing.assert_allclose(heard.counts.beats, KNOWN, atol=1e-3)
    assert len(said) == 1 and said[0].startswith(f"{loud}: ")


def test_a_routine_is_given_no_tempo(begun: coach.OpenRoutine) -> None:
    with pytest.raises(CoachError) as caught:
        coach.hear_counts(coach.save_routine(begun).path, tempo_bpm=100)
    assert message_of(caught.value) == "the routine says how its music is counted"
    assert (caught.value.where, hint_of(caught.value)) == ("--tempo", "leave the tempo out")


def test_a_routine_is_toml_that_names_its_music(begun: coach.OpenRoutine, folder: Path) -> None:
    assert coach.is_routine(coach.save_routine(begun).path)
    assert coach.is_routine(str(begun.path))
    assert not coach.is_routine(find_drill("clubs_mills"))
    assert not coach.is_routine(folder / "my music é.wav")
    assert not coach.is_routine(folder / "gone.toml")
    assert not coach.is_routine(folder)
    (folder / "broken.toml").write_text("music = [")
    assert not coach.is_routine(folder / "broken.toml")


def test_a_routine_that_cannot_be_read_is_named(folder: Path) -> None:
    path = folder / "bad.toml"
    with pytest.raises(CoachError) as caught:
        coach.open_routine(path)
    assert message_of(caught.value) == "expected a routine, but there is no such file"
    assert (caught.value.where, hint_of(caught.value)) == (str(path), "tempo-coach counts MUSIC makes one")
    path.write_text("title = 1\n")
    with pytest.raises(CoachError) as caught:
        coach.open_routine(path)
    assert message_of(caught.value) == "expected words in quotes, got 1"
    assert caught.value.where == f"{path}:1: title"
    path.write_text('title = "a"\n[music]\nfile = "gone.wav"\n')
    with pytest.raises(CoachError) as caught:
        coach.open_routine(path)
    assert message_of(caught.value).startswith("the music is gone")
    assert caught.value.where == str(folder / "gone.wav")
    assert hint_of(caught.value) == f"bring it back, or write its new place under [music] in {path}"


def test_a_routine_without_music_cannot_be_begun_nor_written_into_no_folder(
    begun: coach.OpenRoutine, folder: Path
) -> None:
    with pytest.raises(CoachError) as caught:
        coach.begin_routine(folder / "new.toml", folder / "gone.wav")
    assert caught.value.where == str(folder / "gone.wav")
    nowhere = folder / "no folder" / "routine.toml"
    with pytest.raises(CoachError) as caught:
        coach.save_routine(replace(begun, path=nowhere))
    assert message_of(caught.value) == "the routine cannot be written (No such file or directory)"
    assert caught.value.where == str(nowhere)


def test_one_known_beat_begins_no_routine(folder: Path) -> None:
    known = write_beats(folder / "one.txt", KNOWN[:1])
    with pytest.raises(CoachError) as caught:
        coach.begin_routine(folder / "new.toml", folder / "my music é.wav", known=known)
    assert caught.value.where == str(known)


def test_rules_are_held_against_the_counts_as_corrected(begun: coach.OpenRoutine) -> None:
    opened = coach.open_routine(coach.save_routine(begun).path)
    code = read_code("until_2024")
    findings = coach.check_rules(opened, code)
    assert code.name
    assert {finding.rule for finding in findings} <= set(code.rules)
    measured = {finding.rule.what: finding.seconds for finding in findings}
    assert measured["length"] == pytest.approx(KNOWN[-1] - KNOWN[0], abs=1e-3)  # no movement is marked: the counts are
    assert measured["introduction"] == pytest.approx(KNOWN[0], abs=1e-3)
    with pytest.raises(CoachError) as caught:
        read_code("nope")
    assert message_of(caught.value) == "there is no rule table of that name, and no file either"
    assert (caught.value.where, hint_of(caught.value)) == ("nope", "there are: from_2025, until_2024")


def test_the_sheet_has_a_row_for_each_eight_and_reads_drills_beside_the_routine(
    begun: coach.OpenRoutine, folder: Path
) -> None:
    own = folder / "own drill.toml"
    own.write_text(find_drill("clubs_mills").read_text(encoding="utf-8"), encoding="utf-8")
    opened = coach.open_routine(coach.save_routine(begun).path)
    sheet = coach.sheet_of(lay_on(opened, Laid("own drill.toml", Position(3, 1.0))))
    assert [row.number for row in sheet.rows] == [1, 2, 3]
    assert [row.start for row in sheet.rows] == pytest.approx(KNOWN[::8], abs=1e-3)
    assert [bool(row.hands) for row in sheet.rows] == [False, False, True]
    assert [drill.name for drill in sheet.drills] == ["own drill"]
    mirrored = coach.sheet_of(lay_on(opened, Laid("own drill.toml", Position(3, 1.0), mirrored=True)))
    assert sheet.rows[2].hands != mirrored.rows[2].hands
    own.unlink()
    with pytest.raises(CoachError) as caught:
        coach.sheet_of(lay_on(begun, Laid("own drill.toml", Position(3, 1.0))))
    assert caught.value.where == str(own)


def test_taps_anew_that_cannot_be_followed_are_said(begun: coach.OpenRoutine) -> None:
    with pytest.raises(CoachError) as caught:
        coach.read_taps(begun, [1.0], all_of_it=True)
    assert message_of(caught.value) == "expected at least 4 taps inside the music, got 1"
    assert (caught.value.where, hint_of(caught.value)) == ("taps", "tap along once more")

"""Beats in files: what other programs of music informatics read and write, and every bad line said."""

import mido
import mir_eval
import numpy as np
import pytest

from tempo_coach.errors import CoachErrors
from tempo_coach.music.beats.beat_files import MOST_BEATS, MOST_PROBLEMS, BeatList, as_heard, beats_to_text, read_beats
from tempo_coach.music.beats.midi import beats_to_midi
from tempo_coach.report.words.errors import say_error
from tests.refused import refused

BENDING = np.round(0.37 + np.cumsum(0.5 + 0.1 * np.sin(np.arange(301) / 9) + 1e-7 * np.arange(301)), 9)
BARS = np.arange(301) % 4 + 1


def test_text_is_read_by_mir_eval_and_back(tmp_path):
    path = tmp_path / "beats.txt"
    path.write_text(beats_to_text(BENDING, BARS))
    times, bars = mir_eval.io.load_labeled_events(str(path))
    np.testing.assert_allclose(times, BENDING, atol=5.1e-7)
    assert [int(bar) for bar in bars] == BARS.tolist()
    back = read_beats(path)
    np.testing.assert_allclose(back.times, BENDING, atol=5.1e-7)
    assert back.bar.tolist() == BARS.tolist()


def test_a_tempo_map_of_another_program_gives_the_beats_of_its_metre(tmp_path):
    file = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    file.tracks.append(track)
    track.append(mido.MetaMessage("time_signature", numerator=3, denominator=4, time=0))
    track.append(mido.MetaMessage("set_tempo", tempo=600_000, time=0))
    track.append(mido.Message("note_on", note=60, velocity=80, time=480 * 3))
    track.append(mido.MetaMessage("set_tempo", tempo=400_000, time=0))
    track.append(mido.Message("note_on", note=62, velocity=80, time=480 * 3))
    path = tmp_path / "other.mid"
    file.save(str(path))
    found = read_beats(path)
    np.testing.assert_allclose(found.times, [0, 0.6, 1.2, 1.8, 2.2, 2.6, 3.0])
    assert found.bar.tolist() == [1, 2, 3, 1, 2, 3, 1]


@pytest.mark.parametrize("cut", [10, 30, 200, -1])
def test_a_midi_file_that_is_cut_short_is_said(tmp_path, cut):
    path = tmp_path / "short.mid"
    path.write_bytes(beats_to_midi(BENDING, BARS)[:cut])
    with refused(r"short\.mid: the MIDI file is damaged or cut short"):
        read_beats(path)


def test_lists_of_times_may_use_minutes_commas_remarks_and_empty_lines(tmp_path):
    path = tmp_path / "taps.txt"
    path.write_text("﻿# tapped by hand\n0.5\n\n1.0 # here\n59.5\n1:00.25\n", encoding="utf-8")
    found = read_beats(path)
    assert found.times.tolist() == [0.5, 1.0, 59.5, 60.25]
    assert found.bar is None


def test_every_bad_line_is_said_with_its_number(tmp_path):
    path = tmp_path / "bad.txt"
    path.write_text("0.5\t1\n-1\t2\nhello\t3\n0.4\t4\n1.0\t0\n99\t2\nnan\t1\n")
    with pytest.raises(CoachErrors) as caught:
        read_beats(path, duration=60.0)
    said = say_error(caught.value)
    for line, words in {
        2: "from 0 s, got -1",
        3: "expected a time in seconds, got 'hello'",
        4: "expected a time after 0.5 s, got 0.4",
        5: "expected a place in the bar from 1, got '0'",
        6: "inside the music of 60.00 s, got 99",
        7: "got 'nan'",
    }.items():
        assert f"bad.txt:{line}: " in said and words in said


def test_a_thousand_bad_lines_do_not_fill_the_screen(tmp_path):
    path = tmp_path / "prose.txt"
    path.write_text("no number\n" * 1000)
    with pytest.raises(CoachErrors) as caught:
        read_beats(path)
    assert len(caught.value.problems) == MOST_PROBLEMS + 1
    assert "988 more" in say_error(caught.value)


@pytest.mark.parametrize(("content", "words"), [(b"", "names no beat"), (b"\xff\xfe\x00\x81", "something else")])
def test_empty_and_foreign_files_are_said(tmp_path, content, words):
    path = tmp_path / "odd.txt"
    path.write_bytes(content)
    with refused(words):
        read_beats(path)
    with refused("no such file"):
        read_beats(tmp_path / "gone.txt")
    with refused("folder"):
        read_beats(tmp_path)


def test_beats_of_a_file_are_sure_and_their_gaps_are_rests():
    times = np.concatenate([0.5 * np.arange(8), 8 + 0.5 * np.arange(8)])
    beats = as_heard(BeatList(times, None), duration=20.0, one_at=1.1)
    assert beats.rests == ((3.5, 8.0),)
    assert beats.bar[:4].tolist() == [3, 4, 1, 2]
    assert (beats.confidence == 1).all()
    with refused("two or more beats"):
        as_heard(BeatList(times[:1], None), duration=20.0)


@pytest.mark.parametrize("word", ["9" * 5000, "9" * 5000 + ":01", "9" * 400 + ":01", "1e300:00"])
def test_a_number_of_thousands_of_digits_is_no_time(tmp_path, word):
    path = tmp_path / "beats.txt"
    path.write_text(f"1\n{word}\n")
    with refused(":2: expected a time in seconds") as caught:
        read_beats(path)
    assert len(say_error(caught.value)) < 400


def test_more_beats_than_any_music_has_are_refused(tmp_path):
    path = tmp_path / "beats.txt"
    path.write_text("".join(f"{0.1 * k:.1f}\n" for k in range(MOST_BEATS + 1)))
    with refused(f":{MOST_BEATS + 1}: expected up to 100,000 beats"):
        read_beats(path)


@pytest.mark.parametrize("step", [5e-324, 1e-9, 0.04])
def test_beats_that_nobody_counts_apart_are_said(step):
    with refused(r"beats 2 and 3 lie .* ms apart at 1.000 s"):
        as_heard(BeatList(np.array([0.0, 1.0, np.nextafter(1.0, 2) + step, 2.0]), None), duration=3.0)

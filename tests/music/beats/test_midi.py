"""Beats as MIDI, played by an independent reader, and back."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21.midi import ChannelVoiceMessages, MetaEvents, MidiFile

from tempo_coach.music.beats.midi import beats_to_midi, is_midi, read_midi
from tests.refused import refused

BENDING = np.round(0.37 + np.cumsum(0.5 + 0.1 * np.sin(np.arange(301) / 9) + 1e-7 * np.arange(301)), 9)
BARS = np.arange(301) % 4 + 1


def events_of(content):
    """Tick and event of each event of the only track, as music21 reads it: a reader of its own."""
    file = MidiFile()
    file.readstr(content)
    tick, found = 0, []
    for event in file.tracks[0].events:
        if event.type == "DeltaTime":
            tick += event.time
        else:
            found.append((tick, event))
    return found, file.ticksPerQuarterNote


def clicks_of(content):
    """Times and keys of the clicks under the tempo map, played from event to event."""
    events, division = events_of(content)
    now, before, tempo, found = 0.0, 0, 500_000, []
    for tick, event in events:
        now += (tick - before) * tempo / division / 1e6
        before = tick
        if event.type == MetaEvents.SET_TEMPO:
            tempo = int.from_bytes(event.data, "big")
        elif event.type == ChannelVoiceMessages.NOTE_ON and event.velocity:
            found.append((now, event.pitch))
    return np.array([time for time, _ in found]), [key for _, key in found]


def test_no_beat_of_three_hundred_is_off_by_a_microsecond_as_another_reader_plays_the_file():
    content = beats_to_midi(BENDING, BARS)
    times, keys = clicks_of(content)
    np.testing.assert_allclose(times, BENDING, atol=1e-6)
    assert [key == 76 for key in keys] == (BARS == 1).tolist()
    own, bar = read_midi(content)
    np.testing.assert_allclose(own, BENDING, atol=5.1e-7)
    assert bar.tolist() == BARS.tolist()


def test_the_tempo_map_has_one_quarter_note_a_beat_and_says_the_metre():
    events, _ = events_of(beats_to_midi(0.5 * np.arange(9), np.arange(9) % 3 + 1))
    tempi = [int.from_bytes(event.data, "big") for _, event in events if event.type == MetaEvents.SET_TEMPO]
    assert set(tempi) == {500_000}
    meters = [list(event.data[:2]) for _, event in events if event.type == MetaEvents.TIME_SIGNATURE]
    assert meters == [[3, 2]]  # the second is a power of two


def test_a_pause_longer_than_a_tempo_can_say_is_kept():
    beats = np.array([0.0, 0.5, 1.0, 1.5, 41.5, 42.0])
    times, _ = clicks_of(beats_to_midi(beats, np.array([1, 2, 3, 4, 1, 2])))
    np.testing.assert_allclose(times, beats, atol=1e-6)


@given(st.lists(st.floats(0.12, 30.0), min_size=1, max_size=40), st.floats(0, 20), st.integers(2, 6))
def test_any_beats_come_back_from_midi_within_a_microsecond(steps, start, meter):
    beats = start + np.concatenate([[0.0], np.cumsum(steps)])
    bar = np.arange(beats.size) % meter + 1
    back, back_bar = read_midi(beats_to_midi(beats, bar))
    np.testing.assert_allclose(back, beats, atol=5.1e-7)
    assert back_bar.tolist() == bar.tolist()


def variable(*parts):
    """A track of these bytes, closed, behind a header of 480 ticks a quarter note."""
    body = b"".join(parts) + b"\x00\xff\x2f\x00"
    header = b"MThd" + (6).to_bytes(4, "big") + bytes([0, 0, 0, 1, 480 >> 8, 480 & 255])
    return header + b"MTrk" + len(body).to_bytes(4, "big") + body


def test_what_is_midi_is_known_by_its_first_bytes():
    assert is_midi(beats_to_midi(BENDING, BARS)) and not is_midi(b"RIFF") and not is_midi(b"")


def test_a_running_status_and_messages_that_do_not_matter_are_read_over():
    # a program change (one byte of data), a system message, two notes of one status byte
    content = variable(b"\x00\xc0\x05", b"\x00\xf0\x02\x01\xf7", b"\x00\x90\x3c\x40", b"\x83\x60\x3c\x40")
    times, bar = read_midi(content)
    np.testing.assert_allclose(times, [0, 0.5])  # 120 quarter notes a minute where a file names no tempo
    assert bar.tolist() == [1, 2]


def test_a_file_that_goes_on_for_years_is_said_before_its_beats_are_made():
    content = variable(*[b"\xff\xff\xff\x7f\x90\x3c\x40"] * 3)
    with refused(r"tune.mid: .* goes on for 1.678e\+06 quarters"):
        read_midi(content, where="tune.mid")


def test_a_metre_that_changes_years_after_the_last_note_makes_no_beats():
    late = b"\xff\xff\xff\x7f\xff\x58\x04\x03\x02\x18\x08"
    times, _ = read_midi(variable(b"\x00\x90\x3c\x40", b"\x83\x60\x3c\x40", late))
    np.testing.assert_allclose(times, [0, 0.5])


def test_a_tempo_at_a_tick_that_no_number_holds_is_not_counted():
    late = b"\xff" * 12 + b"\x7f" + b"\xff\x51\x03\x07\xa1\x20"
    times, _ = read_midi(variable(b"\x00\x90\x3c\x40", b"\x83\x60\x3c\x40", late))
    np.testing.assert_allclose(times, [0, 0.5])


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ((8, bytes([0, 2])), "separate songs"),
        ((12, bytes([0xE7, 40])), "film frames"),
        ((12, bytes([0, 0])), "film frames"),
    ],
)
def test_what_cannot_be_counted_is_said_with_its_file(change, words):
    at, new = change
    content = variable(b"\x00\x90\x3c\x40")
    with refused(f"tune.mid: .*{words}"):
        read_midi(content[:at] + new + content[at + len(new) :], where="tune.mid")


def test_beats_before_the_first_one_count_up_to_it():
    times = 0.5 * np.arange(7)
    _, bar = read_midi(beats_to_midi(times, np.array([3, 4, 1, 2, 3, 4, 1])))
    assert bar.tolist() == [3, 4, 1, 2, 3, 4, 1]

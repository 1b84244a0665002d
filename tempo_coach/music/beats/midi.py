"""Beats as a Standard MIDI File: a tempo map that follows every beat, and a click on each.

One beat is one quarter note. A tempo is a whole number of microseconds in such a file, so each beat is rounded from
the begin of the music and not from the beat before: no beat is off by more than half a microsecond, however many there
are. Source of the format: Standard MIDI Files 1.0 (MIDI Manufacturers Association), from memory.
"""

from __future__ import annotations

import io
import math
import struct
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError

if TYPE_CHECKING:
    from mido import Message, MetaMessage, MidiTrack

    from tempo_coach.times import Floats, Ints

#: Ticks a quarter note.
DIVISION = 960
#: Longest quarter note that three bytes of microseconds hold, in microseconds.
LONGEST_QUARTER_US = (1 << 24) - 1
#: The clicks: wood blocks of the percussion channel, high on a bar's one (General MIDI, from memory).
CLICK_CHANNEL, HIGH, LOW = 9, 76, 77
#: Tempo of a file that names none (Standard MIDI Files): 120 beats a minute.
DEFAULT_QUARTER_US = 500_000
#: Quarters of the longest file that is read: five hours at 300 a minute.
MOST_QUARTERS = 100_000


def is_midi(content: bytes) -> bool:
    """Return whether a file's content begins like a Standard MIDI File."""
    return content[:4] == b"MThd"


def beats_to_midi(times: Floats, bar: Ints) -> bytes:
    """Return beats as a Standard MIDI File of one track.

    Parameters
    ----------
    times : array, shape (n,), n >= 1
        Seconds, strictly ascending, from 0.
    bar : array of int, shape (n,)
        Position in the bar, from 1.

    Returns
    -------
    bytes
        Time 0 of the file is time 0 of the music. A pause takes as many quarter notes as its length asks for.
    """
    from mido import Message, MetaMessage, MidiFile, MidiTrack

    micros = np.round(np.asarray(times, dtype=np.float64) * 1e6).astype(np.int64)
    steps = np.diff(micros)
    median = float(np.median(steps)) if steps.size else 500_000.0
    events: list[tuple[int, Message | MetaMessage]] = []
    tick, now = 0, 0
    ticks = []
    for k, moment in enumerate(micros.tolist()):
        length = moment - now
        quarters = max(
            1, math.ceil(length / LONGEST_QUARTER_US), round(length / median) if _is_wait(k, length, median) else 1
        )
        if k == 0 and length == 0:
            quarters = 0
        for quarter in range(quarters):
            end = now + round(length * (quarter + 1) / quarters)
            begin = now + round(length * quarter / quarters)
            events.append((tick + quarter * DIVISION, MetaMessage("set_tempo", tempo=end - begin)))
        tick, now = tick + quarters * DIVISION, moment
        ticks.append(tick)
    events.append((tick, MetaMessage("set_tempo", tempo=min(round(median), LONGEST_QUARTER_US))))
    events += _meters(ticks, bar)
    for place, position in zip(ticks, bar.tolist(), strict=True):
        click = Message("note_on", channel=CLICK_CHANNEL, note=HIGH if position == 1 else LOW, velocity=100)
        events.append((place, click))
        events.append((place + DIVISION // 8, Message("note_off", channel=CLICK_CHANNEL, note=click.note, velocity=0)))
    track, last = MidiTrack([MetaMessage("track_name", name="counts")]), 0
    # what is said about a tick stands before the click on it
    for place, message in sorted(events, key=lambda event: (event[0], not event[1].is_meta)):
        message.time = place - last
        last = place
        track.append(message)
    track.append(MetaMessage("end_of_track", time=DIVISION))
    content = io.BytesIO()
    MidiFile(type=0, ticks_per_beat=DIVISION, tracks=[track]).save(file=content)
    return content.getvalue()


def _is_wait(k: int, length: int, median: float) -> bool:
    """Return whether a stretch before a beat holds no beats: before the first one, or a pause."""
    return k == 0 or length > 2 * median


def _meters(ticks: list[int], bar: Ints) -> list[tuple[int, MetaMessage]]:
    """Return a time signature wherever the number of quarter notes a bar changes."""
    from mido import MetaMessage

    ones = [0, *(tick for tick, position in zip(ticks, bar.tolist(), strict=True) if position == 1 and tick > 0)]
    lengths = [(b - a) // DIVISION for a, b in pairwise(ones)]
    lengths.append(int(bar.max()))
    events, before = [], 0
    for tick, quarters in zip(ones, lengths, strict=True):
        if quarters != before and quarters <= 255:
            events.append((tick, MetaMessage("time_signature", numerator=quarters)))
            before = quarters
    return events


class _Events(NamedTuple):
    """The events of a file that matter: tempi (tick, µs a quarter), metres (tick, beats, ticks a beat), clicks."""

    tempi: list[tuple[int, int]]
    meters: list[tuple[int, int, int]]
    clicks: list[tuple[int, int]]
    end: int


def read_midi(content: bytes, *, where: str = "MIDI file") -> tuple[Floats, Ints]:
    """Return the beats of a Standard MIDI File.

    A file with clicks (wood blocks, as :func:`beats_to_midi` writes them) has its beats there; in any other one every
    beat of its metre counts, to the end of its notes.

    Parameters
    ----------
    content : bytes
    where : str
        The file, for errors.

    Returns
    -------
    times : array, shape (n,)
        Seconds.
    bar : array of int, shape (n,)

    Raises
    ------
    CoachError
        If it is damaged, counts in film frames, or holds separate songs.
    """
    events, division = _parse(content, where)
    if events.end > MOST_QUARTERS * division:
        raise CoachError("midi.too_long", where=where, quarters=events.end / division)
    if events.clicks:
        ticks = sorted({tick for tick, _ in events.clicks})
        high = {tick for tick, key in events.clicks if key == HIGH}
        bar = _count_from_ones(ticks, high)
    else:
        ticks, bar = _metre_beats(events, division)
    times = _seconds(ticks, events.tempi, division)
    return times, np.array(bar, dtype=np.int64)


def _count_from_ones(ticks: list[int], ones: set[int]) -> list[int]:
    """Return positions in the bar; those before the first one count up to it from a whole bar."""
    bar: list[int] = []
    for tick in ticks:
        bar.append(1 if tick in ones else (bar[-1] + 1 if bar else 0))
    lead = next((k for k, tick in enumerate(ticks) if tick in ones), 0)
    length = max(bar[lead:], default=1)
    for k in range(lead):
        bar[k] = (length - lead + k) % length + 1
    return [max(1, position) for position in bar]


def _metre_beats(events: _Events, division: int) -> tuple[list[int], list[int]]:
    meters = sorted([(0, 4, division), *events.meters], key=lambda meter: meter[0])
    ticks: list[int] = []
    bar: list[int] = []
    for (start, number, length), (stop, _, _) in zip(meters, [*meters[1:], (events.end + 1, 0, 0)], strict=True):
        beats = range(start, stop, max(1, length))
        ticks += beats
        bar += [k % number + 1 for k in range(len(beats))]
    return ticks, bar


def _seconds(ticks: list[int], tempi: list[tuple[int, int]], division: int) -> Floats:
    """Return the time of each tick under the tempo map."""
    changes = dict(sorted([(0, DEFAULT_QUARTER_US), *tempi], key=lambda each: each[0]))
    places = np.array(list(changes), dtype=np.int64)
    lengths = np.array(list(changes.values()), dtype=np.int64)
    # whole numbers of microseconds times ticks: no rounding adds up
    begun = np.concatenate([[0], np.cumsum(np.diff(places) * lengths[:-1])])
    wanted = np.array(ticks, dtype=np.int64)
    piece = np.searchsorted(places, wanted, side="right") - 1
    total = begun[piece] + (wanted - places[piece]) * lengths[piece]
    return np.asarray(total / (division * 1e6), dtype=np.float64)


def _parse(content: bytes, where: str) -> tuple[_Events, int]:
    from mido import MidiFile
    from mido.midifiles.meta import KeySignatureError

    try:
        file = MidiFile(file=io.BytesIO(content))
    except (EOFError, OSError, LookupError, ValueError, struct.error, KeySignatureError) as error:
        raise CoachError("midi.damaged", where=where) from error
    division = file.ticks_per_beat
    if file.type not in (0, 1):
        raise CoachError("midi.separate_songs", where=where)
    if division <= 0:
        raise CoachError("midi.film_frames", where=where)
    events = _Events([], [], [], 0)
    end = max((_take_track(track, events, division) for track in file.tracks), default=0)
    # nothing that is said after the last note: it could be years
    tempi = [tempo for tempo in events.tempi if tempo[0] <= end]
    meters = [meter for meter in events.meters if meter[0] <= end]
    return _Events(tempi, meters, events.clicks, end), division


def _take_track(track: MidiTrack, events: _Events, division: int) -> int:
    """Collect the relevant events of one track, and return the tick of its last note."""
    tick, last = 0, 0
    for message in track:
        tick += message.time
        if message.type == "set_tempo":
            events.tempi.append((tick, message.tempo))
        elif message.type == "time_signature" and message.numerator:
            events.meters.append((tick, message.numerator, max(1, division * 4 // message.denominator)))
        elif message.type == "note_on":
            last = tick
            if message.channel == CLICK_CHANNEL and message.note in (HIGH, LOW) and message.velocity:
                events.clicks.append((tick, message.note))
    return last

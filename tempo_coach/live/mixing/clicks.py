"""Music with a click or a spoken number on every count: what a coach listens to, and what a film of counts has."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.live.mixing.mix import cut_passage, load_cue_sounds, mix
from tempo_coach.pattern.plan.cues import COUNT_SOUND, NUMBERS, ONE_SOUND, ROOM, SAY
from tempo_coach.pattern.plan.plan import CueSounds, Eight, Moments, Music, MusicSegment, Plan

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.live.mixing.spoken import Word
    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.music.files.sound import Sound

#: Seconds that are made ready at once: a long look at one place, made in a moment.
LISTENING = 120.0
#: The same without clicks, where all of the music is tapped: longer than any exercise, short enough for memory.
TAPPING = 600.0
_NONE = np.zeros(0)
_NO_MOMENTS = Moments(_NONE, _NONE.astype(np.int64), (), (), _NONE, _NONE, _NONE.astype(np.bool_), ())


def mix_clicks(music: Sound, counts: CountMap, start: float, *, end: float | None = None, clicks: bool = True) -> Sound:
    """Return the music from a time on, with a click on every count and a different one on each count 1.

    Parameters
    ----------
    music : Sound
    counts : CountMap
    start : float
        Seconds of the music; sample 0 of what is returned.
    end : float or None
        By default ``LISTENING`` seconds later, without clicks ``TAPPING``, or the end of the music.
    clicks : bool
        Without them the music alone, for tapping.

    Returns
    -------
    Sound
        Stereo; at the music's rate.
    """
    if end is None:
        end = start + (LISTENING if clicks else TAPPING)
    end = min(music.duration, end)
    first = counts.first_count
    last = counts.place(max(counts.last_count, 0.0)).eight
    ones = {counts.start_of_eight(number) - round(first) for number in range(1, last + 1)}
    inside = np.flatnonzero((counts.beats >= start) & (counts.beats < end)) if clicks else np.zeros(0, dtype=np.int64)
    sounds = tuple(ONE_SOUND if beat in ones else COUNT_SOUND for beat in inside.tolist())
    cues = CueSounds(counts.beats[inside] - start, sounds)
    return _mix(music, first, start, end, cues)


def mix_spoken(
    music: Sound, counts: CountMap, words: Mapping[str, Word], *, remarks: Sequence[tuple[float, str]] = ()
) -> Sound:
    """Return the whole music with its counts spoken.

    Parameters
    ----------
    music : Sound
    counts : CountMap
    words : mapping of word to Word
        At the music's rate: one to eight, and what else is said. A number that nobody has recorded is clicked.
    remarks : sequence of (float, str)
        Seconds of the music, ascending, and the word of ``words`` that is said there instead of the counts under it.

    Returns
    -------
    Sound
        Stereo; at the music's rate. Where counts are too close for all of them the odd ones are said.
    """
    lengths = [words[word].sound.duration - words[word].place / words[word].sound.rate_hz for _, word in remarks]
    taken = [(at - ROOM / 2, at + length) for (at, _), length in zip(remarks, lengths, strict=True)]
    cues = [(at, SAY + word) for at, word in remarks]
    first = counts.eights[0][0]
    steps = np.diff(counts.beats)
    for beat, time in enumerate(counts.beats.tolist()):
        number = round(counts.place(float(beat - first)).count) if beat >= first else 0
        crowded = steps[min(beat, steps.size - 1)] < ROOM
        said = 1 <= number <= len(NUMBERS) and (number % 2 or not crowded)
        if said and not any(begin <= time < over for begin, over in taken):
            cues.append((time, SAY + NUMBERS[number - 1]))
    cues.sort()
    found = CueSounds(np.array([time for time, _ in cues]), tuple(sound for _, sound in cues))
    return _mix(music, counts.first_count, 0.0, music.duration, found, words)


def _mix(
    music: Sound, first: float, start: float, end: float, cues: CueSounds, words: Mapping[str, Word] | None = None
) -> Sound:
    plan = Plan(
        drill="counts",
        title="counts",
        apparatus="none",
        hands=("counts",),
        cycle_counts=8.0,
        tempo_bpm=None,
        music=Music("", ""),
        speed=1.0,
        lead_in_counts=0,
        cue_way="all",
        allowance=0.0,
        eights=(Eight(1, first, 8),),
        pieces=(MusicSegment(0.0, start, 1.0),),
        knot_times=np.array([0.0, max(end - start, 0.1)]),
        knot_counts=np.array([first, first + 1]),
        duration=max(end - start, 0.1),
        moments=_NO_MOMENTS,
        cues=cues,
    )
    return mix(plan, cut_passage(plan, music), load_cue_sounds(music.rate_hz), words=words, rate_hz=music.rate_hz)

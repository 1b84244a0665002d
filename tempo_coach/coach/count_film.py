"""A routine as a film to count to: for each instant the count, what is done now and what comes next; its sound."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.coach.routine_course import SAME
from tempo_coach.live.mixing.spoken import find_voice
from tempo_coach.pattern.routine.routine import MusicFile, Routine
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from pathlib import Path

    from tempo_coach.coach.routine_course import RoutineCourse
    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.music.counts.heard import Heard
    from tempo_coach.music.files.sound import Sound

__all__ = ["FilmStep", "Routine", "find_voice", "follow_course", "mix_counted", "of_music_alone"]


@dataclass(frozen=True)
class FilmStep:
    """The picture from one instant on.

    Parameters
    ----------
    start : float
        Seconds of the music.
    count : int or None
        The count; None before the first, in a pause and after the last.
    eight : int or None
    now, next : str
        What is laid there, and what begins next.
    next_in : int
        Whole counts until that; 0 where nothing comes.
    remark : str
        Of this eight.
    """

    start: float
    count: int | None
    eight: int | None
    now: str = ""
    next: str = ""
    next_in: int = 0
    remark: str = ""


def follow_course(course: RoutineCourse, counts: CountMap) -> tuple[FilmStep, ...]:
    """Return the successive pictures of a routine, from its first instant on.

    Parameters
    ----------
    course : RoutineCourse
    counts : CountMap
        Of its music, corrected.
    """
    steps = [FilmStep(0.0, None, None)]
    pauses = iter([*sorted(counts.pauses), (np.inf, np.inf)])
    pause = next(pauses)
    first = counts.eights[0][0]
    for beat, time in enumerate(counts.beats.tolist()):
        while pause[0] <= time + SAME:
            steps.append(FilmStep(pause[0], None, steps[-1].eight, remark=steps[-1].remark))
            pause = next(pauses)
        position = float(beat - first)
        if position < 0:
            continue
        place = counts.place(position)
        here = course.at(position, 1.0)
        steps.append(
            FilmStep(
                time,
                int(place.count + SAME),
                place.eight,
                here.now,
                here.next,
                int(np.ceil(here.next_start - position - SAME)) if here.next else 0,
                course.remarks.get(place.eight, ""),
            )
        )
    period = float(counts.seconds_at(counts.last_count + 1)) - float(counts.beats[-1])
    steps.append(FilmStep(float(counts.beats[-1]) + max(period, 0.1), None, None))
    return tuple(sorted(steps, key=lambda each: each.start))


def of_music_alone(path: Path) -> Routine:
    """Return a routine of a piece of music on which nothing is laid."""
    return Routine(path.stem.replace("_", " "), MusicFile(str(path)))


def mix_counted(
    routine: Routine, heard: Heard, *, clicks: bool = False, voice: str | None = None
) -> tuple[Sound, Reason | None]:
    """Return the sound of the film, and which remarks no voice has.

    Parameters
    ----------
    routine : Routine
    heard : Heard
    clicks : bool
        A click on every count.
    voice : str or None
        A voice that counts and says the remarks, by its name or folder.

    Raises
    ------
    CoachError
        If there is no such voice, or it cannot be read.
    """
    from tempo_coach.live.mixing.clicks import mix_clicks, mix_spoken
    from tempo_coach.live.mixing.spoken import load_words, word_of

    counts, music = heard.counts, heard.sound
    if clicks:
        return mix_clicks(music, counts, 0.0, end=music.duration), None
    if voice is None:
        return music, None
    remarks = [(each, word_of(each.text)) for each in routine.remarks]
    words = load_words(find_voice(voice), music.rate_hz, also=[word for _, word in remarks])
    said = sorted(
        (float(counts.seconds_at(counts.start_of_eight(each.eight), after=True)), word)
        for each, word in remarks
        if word in words
    )
    unsaid = [each.text for each, word in remarks if word not in words]
    mixed = mix_spoken(music, counts, words, remarks=said)
    return mixed, Reason(Why.REMARKS_UNSAID, (unsaid,)) if unsaid else None

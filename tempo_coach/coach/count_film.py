"""Course of a routine as a film shows it: from which second on which count, what is done now and what comes next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.coach.drills import drill_beside, load_drill
from tempo_coach.pattern.routine.routine import position_of, span_of

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.pattern.routine.routine import Routine

_SAME = 1e-6


@dataclass(frozen=True)
class FilmStep:
    """What is to be seen from one instant on.

    Parameters
    ----------
    start : float
        Seconds of the music.
    count : int or None
        The count; None before the first, in a pause and behind the last.
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


def follow_routine(routine: Routine, counts: CountMap, path: Path | None) -> tuple[FilmStep, ...]:
    """Return what is to be seen of a routine, from its first instant on, in order.

    Parameters
    ----------
    routine : Routine
    counts : CountMap
        Of its music, corrected.
    path : Path or None
        Its file, beside which its drills lie.

    Raises
    ------
    CoachError
        If a drill cannot be read.
    """
    stretches = sorted(_stretches(routine, counts, path))
    steps = [FilmStep(0.0, None, None)]
    pauses = iter([*sorted(counts.pauses), (np.inf, np.inf)])
    pause = next(pauses)
    remarks = {each.eight: each.text for each in routine.remarks}
    first = counts.eights[0][0]
    for beat, time in enumerate(counts.beats.tolist()):
        while pause[0] <= time + _SAME:
            steps.append(FilmStep(pause[0], None, steps[-1].eight, remark=steps[-1].remark))
            pause = next(pauses)
        position = float(beat - first)
        if position < 0:
            continue
        place = counts.place(position)
        doing = [name for start, end, name in stretches if start < position + 1 - _SAME and position < end - _SAME]
        coming = next(((start, name) for start, _, name in stretches if start > position + 1 - _SAME), None)
        steps.append(
            FilmStep(
                time,
                int(place.count + _SAME),
                place.eight,
                " · ".join(dict.fromkeys(doing)),
                coming[1] if coming else "",
                int(np.ceil(coming[0] - position - _SAME)) if coming else 0,
                remarks.get(place.eight, ""),
            )
        )
    period = float(counts.seconds_at(counts.last_count + 1)) - float(counts.beats[-1])
    steps.append(FilmStep(float(counts.beats[-1]) + max(period, 0.1), None, None))
    return tuple(sorted(steps, key=lambda each: each.start))


def _stretches(routine: Routine, counts: CountMap, path: Path | None) -> Iterator[tuple[float, float, str]]:
    """Yield what is laid: where it begins and is over in counts, and what it is called."""
    for laid in routine.laid:
        drill = load_drill(laid.drill if path is None else drill_beside(path, laid.drill), mirrored=laid.mirrored)
        begin, over = span_of(counts, laid)
        yield begin, over, f"{drill.title}{f', {laid.hand}' if laid.hand else ''}"
    for moment in routine.moments:
        at = position_of(counts, moment.at)
        what = moment.what if moment.what != "other" else ""
        yield at, at + 1, " ".join(part for part in (what, moment.hand, moment.text) if part)
    for steps in routine.steps:
        yield position_of(counts, steps.start), position_of(counts, steps.end), "dance steps"

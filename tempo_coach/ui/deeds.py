"""What a coach does to the counts with one key: each a step from a setting to the next."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.corrections import Correction
from tempo_coach.music.renumber import usual_period
from tempo_coach.ui.eights import row_with, rows_of
from tempo_coach.ui.setting import SAME_TIME, do, refuse, say, turn_to

if TYPE_CHECKING:
    from tempo_coach.ui.setting import Setting

#: By how much a count moves at one step, and at a big one (s): what can just be heard, and five times that.
STEP, BIG_STEP = 0.01, 0.05


def count_at(setting: Setting, factor: float) -> Setting:
    """Return the setting counted ``factor`` times as fast: in the marked stretch, or everywhere.

    Parameters
    ----------
    setting : Setting
    factor : float
        1/2, 2, 3 or 1/3.
    """
    start, end = setting.stretch or (0.0, None)
    beats = setting.counts.beats
    inside = beats[beats >= start - SAME_TIME] if end is None else beats[(beats >= start - SAME_TIME) & (beats <= end)]
    if inside.size < 2:
        return refuse(setting, CoachError("expected a stretch of two counts or more", hint="mark its other end"))
    tempo_bpm = 60.0 / float(np.median(np.diff(inside))) * factor
    return do(setting, Correction("level", start, to=end, tempo_bpm=tempo_bpm))


def move(setting: Setting, by: float) -> Setting:
    """Return the setting with the count that is looked at so many seconds later, or earlier."""
    to = round(setting.time + by, 6)
    return do(setting, Correction("move", setting.time, to=to), look_at=to)


def add_count(setting: Setting) -> Setting:
    """Return the setting with one count more, halfway to the next one."""
    beats = setting.counts.beats
    if setting.beat + 1 >= beats.size:
        at = float(2 * beats[-1] - beats[-2])
        if at > setting.duration:
            return refuse(setting, CoachError("the music ends there"))
    else:
        at = float(beats[setting.beat] + beats[setting.beat + 1]) / 2
    return do(setting, Correction("add", at), look_at=at)


def pause_here(setting: Setting) -> Setting:
    """Return the setting with a pause over the marked stretch, or from this count to the next one."""
    if setting.stretch is not None:
        start, end = setting.stretch
    elif setting.beat + 1 < setting.counts.beats.size:
        start, end = setting.time, float(setting.counts.beats[setting.beat + 1])
    else:
        return refuse(setting, CoachError("the music ends there"))
    return do(setting, Correction("pause", start, to=end))


def count_on(setting: Setting) -> Setting:
    """Return the setting with counts through the silence, or the gap, behind the count that is looked at."""
    beats = setting.counts.beats
    if setting.beat + 1 >= beats.size:
        return refuse(setting, CoachError("the music ends there"))
    gap = float(beats[setting.beat + 1] - beats[setting.beat])
    number = max(1, round(gap / usual_period(setting.counts, setting.time)))
    return do(setting, Correction("through", setting.time, counts=number))


def take_off(setting: Setting) -> Setting:
    """Return the setting without the drills that lie on the eight that is looked at."""
    rows = rows_of(setting.counts)
    number = rows[row_with(rows, setting.beat)].number
    kept = tuple(
        each for each in setting.routine.laid if not each.at.eight <= number < each.at.eight + max(1, each.eights)
    )
    if kept == setting.routine.laid:
        return say(setting, "Nothing is laid on this eight.")
    after = turn_to(setting, replace(setting.routine, laid=kept), setting.counts)
    return replace(after, sentence=f"Taken off eight {number}.")

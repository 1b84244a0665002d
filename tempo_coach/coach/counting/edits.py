"""Edits of counts by one key, and the cursor moved from count to count, eight to eight and doubt to doubt."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.coach.counting.setting import SAME_TIME, beat_near, do, note, refuse, row_with, rows_of, turn_to
from tempo_coach.errors import CoachError
from tempo_coach.music.beats.breaks import find_slowing, is_silent, is_slower, period_before
from tempo_coach.music.counts.corrections import Correction
from tempo_coach.music.counts.renumber import median_period
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from tempo_coach.coach.counting.setting import Setting
    from tempo_coach.music.files.sound import Sound

#: By how much a count moves at one step, and at a big one (s): what can just be heard, and five times that.
STEP, BIG_STEP = 0.01, 0.05


def count_at(setting: Setting, factor: float) -> Setting:
    """Return the setting counted ``factor`` times as fast: in the marked stretch, or everywhere.

    Parameters
    ----------
    factor : float
        1/2, 2, 3 or 1/3.
    """
    start, end = setting.stretch or (0.0, None)
    beats = setting.counts.beats
    inside = beats[beats >= start - SAME_TIME] if end is None else beats[(beats >= start - SAME_TIME) & (beats <= end)]
    if inside.size < 2:
        return refuse(setting, CoachError("stretch.too_short"))
    tempo_bpm = 60.0 / float(np.median(np.diff(inside))) * factor
    return do(setting, Correction("level", start, to=end, tempo_bpm=tempo_bpm))


def move(setting: Setting, by: float) -> Setting:
    """Return the setting with the current count moved by seconds."""
    to = round(setting.time + by, 6)
    return do(setting, Correction("move", setting.time, to=to), look_at=to)


def add_count(setting: Setting) -> Setting:
    """Return the setting with another count, halfway to the next one."""
    beats = setting.counts.beats
    if setting.beat + 1 >= beats.size:
        at = float(2 * beats[-1] - beats[-2])
        if at > setting.duration:
            return refuse(setting, CoachError("stretch.music_ends"))
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
        return refuse(setting, CoachError("stretch.music_ends"))
    return do(setting, Correction("pause", start, to=end))


def count_on(setting: Setting, sound: Sound) -> Setting:
    """Return the setting with counts in the gap after the current count.

    Where it is silent, or counts fall evenly on what is struck, they are even; where the music slows down, slower ones.

    Parameters
    ----------
    setting : Setting
    sound : Sound
        The music.
    """
    beats = setting.counts.beats
    if setting.beat + 1 >= beats.size:
        return refuse(setting, CoachError("stretch.music_ends"))
    start, end = float(beats[setting.beat]), float(beats[setting.beat + 1])
    number = round((end - start) / median_period(setting.counts, start))
    if number < 2:
        return refuse(setting, CoachError("gap.none", gap_s=end - start))
    even = Correction("through", start, counts=number)
    if is_silent(sound, start, end):
        return do(setting, even)
    inner = find_slowing(sound, start, end, period_before(beats, setting.beat))
    if not inner:
        return refuse(setting, CoachError("gap.sounds_on"))
    if not is_slower(start, inner, end):
        return do(setting, replace(even, counts=len(inner) + 1))
    return do(setting, Correction("slowing", start, times=tuple(round(each, 4) for each in inner)))


def take_off(setting: Setting) -> Setting:
    """Return the setting without the drills on the current eight."""
    rows = rows_of(setting.counts)
    number = rows[row_with(rows, setting.beat)].number
    kept = tuple(
        each for each in setting.routine.laid if not each.at.eight <= number < each.at.eight + max(1, each.eights)
    )
    if kept == setting.routine.laid:
        return note(setting, Reason(Why.NOTHING_LAID))
    after = turn_to(setting, replace(setting.routine, laid=kept), setting.counts)
    return replace(after, news=Reason(Why.TAKEN_OFF, (number,)))


def go(setting: Setting, way: str) -> Setting:
    """Return the setting with the cursor on another count.

    Parameters
    ----------
    way : str
        ``left``, ``right``: a count; ``up``, ``down``: an eight; ``home``, ``end``: the row's ends; ``start``,
        ``finish``: the music's; ``doubt``, ``doubt_before``: the next doubtful place, or the one before.
    """
    if way in ("doubt", "doubt_before"):
        return _go_to_doubt(setting, forward=way == "doubt")
    rows = rows_of(setting.counts)
    here = row_with(rows, setting.beat)
    row = rows[here]
    count = setting.beat - row.beat
    if way in ("up", "down"):
        other = rows[max(0, min(len(rows) - 1, here + (1 if way == "down" else -1)))]
        beat = other.beat + min(count, other.here - 1)
    else:
        beat = {
            "left": setting.beat - 1,
            "right": setting.beat + 1,
            "home": row.beat,
            "end": row.beat + row.here - 1,
            "start": rows[0].beat,
            "finish": setting.counts.beats.size - 1,
        }[way]
    return go_to_beat(setting, beat)


def go_to_beat(setting: Setting, beat: int) -> Setting:
    """Return the setting with the cursor on a count, or the nearest one."""
    beat = max(0, min(setting.counts.beats.size - 1, beat))
    return replace(setting, beat=beat, news=None, failed=False)


def _go_to_doubt(setting: Setting, *, forward: bool) -> Setting:
    beats = [(beat_near(setting.counts, doubt.time), doubt) for doubt in setting.open_doubts]
    if not beats:
        return note(setting, Reason(Why.NO_DOUBT))
    ahead = [each for each in beats if (each[0] > setting.beat if forward else each[0] < setting.beat)]
    # round the end it begins again
    beat, doubt = (ahead or beats)[0 if forward else -1]
    news = Reason(Why.DOUBT, (doubt.reason, doubt.end, len(setting.open_doubts)))
    return replace(go_to_beat(setting, beat), news=news)


def call_right(setting: Setting) -> Setting:
    """Return the setting with the doubts at this count, or in this eight, confirmed as right."""
    rows = rows_of(setting.counts)
    row = rows[row_with(rows, setting.beat)]
    here = setting.doubt_here
    inside = [
        each for each in setting.open_doubts if row.beat <= beat_near(setting.counts, each.time) < row.beat + row.here
    ]
    chosen = [here] if here is not None else inside
    if not chosen:
        return note(setting, Reason(Why.NOTHING_DOUBTED))
    after = replace(setting, seen=setting.seen | {each.time for each in chosen})
    return note(after, Reason(Why.CALLED_RIGHT, (len(after.open_doubts),)))


def put_mark(setting: Setting) -> Setting:
    """Return the setting with one end of a stretch marked, or unmarked if it was there already."""
    if setting.mark is not None and abs(setting.mark - setting.time) < SAME_TIME:
        return replace(setting, mark=None, news=Reason(Why.NO_STRETCH), failed=False)
    return replace(setting, mark=setting.time, news=Reason(Why.OTHER_END), failed=False)


def clear_mark(setting: Setting) -> Setting:
    """Return the setting without a marked stretch."""
    return replace(setting, mark=None, news=None, failed=False)

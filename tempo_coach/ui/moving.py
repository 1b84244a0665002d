"""Moving about a count sheet: from count to count, from eight to eight, to doubtful places, and marking a stretch."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from tempo_coach.ui.eights import beat_near, row_with, rows_of
from tempo_coach.ui.setting import SAME_TIME, say

if TYPE_CHECKING:
    from tempo_coach.ui.setting import Setting


def go(setting: Setting, way: str) -> Setting:
    """Return the setting with another count looked at.

    Parameters
    ----------
    setting : Setting
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
    """Return the setting with that count looked at, or the nearest that there is."""
    beat = max(0, min(setting.counts.beats.size - 1, beat))
    return replace(setting, beat=beat, sentence="", failed=False)


def _go_to_doubt(setting: Setting, *, forward: bool) -> Setting:
    beats = [(beat_near(setting.counts, doubt.time), doubt) for doubt in setting.doubts]
    if not beats:
        return say(setting, "There is no doubtful place.")
    ahead = [each for each in beats if (each[0] > setting.beat if forward else each[0] < setting.beat)]
    # round the end it begins again
    beat, doubt = (ahead or beats)[0 if forward else -1]
    left = len(setting.open_doubts) - (doubt.time not in setting.seen)
    words = f"{doubt.reason[0].upper()}{doubt.reason[1:]}. {left or 'None'} left to look at."
    return replace(go_to_beat(setting, beat), seen=setting.seen | {doubt.time}, sentence=words)


def put_mark(setting: Setting) -> Setting:
    """Return the setting with one end of a stretch marked, or with none if it is there already."""
    if setting.mark is not None and abs(setting.mark - setting.time) < SAME_TIME:
        return replace(setting, mark=None, sentence="No stretch is marked.", failed=False)
    return replace(setting, mark=setting.time, sentence="Go to the other end of the stretch.", failed=False)


def clear_mark(setting: Setting) -> Setting:
    """Return the setting without a marked stretch."""
    return replace(setting, mark=None, sentence="", failed=False)

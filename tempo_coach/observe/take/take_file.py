"""Reader of a take's file: JSON lines, the plan first, then every onset in order of arrival.

::

    {"take": 1, "begun": "2031-05-04T18:15:02", "observed_by": "tap", "player": "…", "plan": {…}}
    {"hand": "right", "stamp": 812.104, "time": 5.39}
    {"gap": [6.1, 6.35]}
    {"end": "passage", "stopped": null, "time": [5.3902, …], "hand": ["right", …], "unmeasurable": [[6.1, 6.35]], …}

The line that ends it holds the onsets once more, as the clocks put them when all was known; a take without it was
broken off, and what is there still makes a take. :mod:`tempo_coach.observe.take.take_writer` writes it.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tempo_coach.errors import CoachError
from tempo_coach.observe.observers import OBSERVERS
from tempo_coach.observe.take.key_repeats import find_repeats
from tempo_coach.observe.take.onsets import FURTHEST, Onsets, Take
from tempo_coach.observe.take.take_writer import TAKE_VERSION
from tempo_coach.pattern.plan.layout import cut_short
from tempo_coach.pattern.plan.plan_file import plain_text, plan_from_dict
from tempo_coach.reasons import Reason, Why
from tempo_coach.resources import MOST_MIB, read_bytes

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from tempo_coach.observe.observers import ObservedBy
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.reasons import Warn

#: Seconds by which the last onset of a take that was ended early may be ahead of its moment.
EARLIEST = 0.1
#: What stands at the end of the name of every take.
ENDING = ".take.jsonl"


@dataclass(frozen=True, eq=False)
class TakeFile:
    """What a take's file holds.

    Parameters
    ----------
    take : Take
    begun : str
        Date and time at which it began, as written; empty where the file does not say.
    player : str
        What it was played through.
    ended : str
        How it ended; empty where it was broken off.
    member : str
        Whose it is, of a group that practised together; else empty.
    """

    take: Take
    begun: str = ""
    player: str = ""
    ended: str = ""
    member: str = ""


def read_take(path: str | Path, *, warn: Warn | None = None) -> Take:
    """Return the take in a file, even of one that was broken off.

    Parameters
    ----------
    path : str or Path
    warn : callable or None
        Told of every line that could not be read.

    Raises
    ------
    CoachError
        If there is no such file, or its first line holds no plan of this version.
    """
    return read_take_file(path, warn=warn).take


def read_take_file(path: str | Path, *, warn: Warn | None = None) -> TakeFile:
    """Return the whole content of a take's file. See :func:`read_take`."""
    where = str(path)
    lines = read_bytes(path, what="take", most_mib=MOST_MIB["take"]).split(b"\n")
    head = _parse(lines[0])
    if head is None or "take" not in head:
        raise CoachError("take.none", where=where)
    if head["take"] != TAKE_VERSION:
        raise CoachError("take.version", where=where, known=TAKE_VERSION, version=head["take"])
    plan = plan_from_dict(head.get("plan") or {}, where=where)
    observed_by = head.get("observed_by", "file")
    if observed_by not in OBSERVERS:
        raise CoachError("take.observer", where=where, known=[*OBSERVERS], found=observed_by)
    rows = _Rows(plan.hands)
    for number, line in enumerate(lines[1:], start=2):
        if not line.strip(b" \r\0"):
            continue
        if not rows.add(_parse(line)) and warn:
            end = number == len(lines)
            warn(Reason(Why.LAST_LINE_CUT, (where,)) if end else Reason(Why.LINE_LEFT_OUT, (where, number)))
    begun, player, member = (plain_text(head.get(name) or "")[:200] for name in ("begun", "player", "member"))
    return TakeFile(rows.take(plan, observed_by), begun, player, rows.ended, member)


def make_take(
    plan: Plan,
    rows: Iterable[tuple[float, str]],
    *,
    observed_by: ObservedBy,
    stopped: float | None = None,
    noise_floor_ms: float | None = None,
    unmeasurable: tuple[tuple[float, float], ...] = (),
    calibrated: bool = False,
) -> Take:
    """Return the take of a plan from its onsets.

    Onsets without a place on the take clock (NaN) are left out, and so are the repeats of a held key, and those of a
    hand that tapped along with the lead-in, unless it began early and has no more onsets than moments.

    Parameters
    ----------
    plan : Plan
    rows : iterable of (time, hand)
        In any order.
    observed_by : str
    stopped : float or None
        Where on the take clock the take was ended early: only cycles that were over by then are asked for.
    noise_floor_ms, unmeasurable, calibrated
        As in :class:`Take`.
    """
    whole = plan
    rows = list(rows)
    if stopped is not None:
        # whoever reaches for a key has stopped moving before
        last = max((time for time, _ in rows if not math.isnan(time)), default=stopped)
        plan = cut_short(plan, min(stopped, last + EARLIEST))
    known = [(time, hand) for time, hand in rows if not math.isnan(time)]
    kept: list[tuple[float, str]] = []
    for hand in plan.hands:
        asked = plan.moments.time[plan.moments.of_hand(hand)]
        mine = sorted(time for time, whose in known if whose == hand)
        if OBSERVERS[observed_by].is_pressed:
            mine = [time for time, repeat in zip(mine, find_repeats(mine), strict=True) if not repeat]
        if len(asked):
            step = float(asked[1] - asked[0]) if len(asked) > 1 else plan.duration - plan.start
            if len(mine) > len(asked):
                mine = [time for time in mine if time >= asked[0] - step / 2]
            if plan is not whole:
                mine = [time for time in mine if time <= asked[-1] + step / 2]
        elif plan is not whole:
            mine = []
        kept.extend((time, hand) for time in mine)
    onsets = Onsets.unsorted([time for time, _ in kept], [hand for _, hand in kept])
    return Take(
        plan,
        onsets,
        observed_by=observed_by,
        noise_floor_ms=noise_floor_ms,
        unmeasurable=unmeasurable,
        calibrated=calibrated,
    )


def _parse(line: bytes) -> dict[str, Any] | None:
    try:
        values = json.loads(line)
    except (ValueError, RecursionError):
        return None
    return values if isinstance(values, dict) else None


def _seconds(value: float) -> float:
    """Return a value as a time that a take can have."""
    time = float(value)
    if not abs(time) <= FURTHEST:
        raise ValueError("no time of a take")
    return time


class _Rows:
    """Collects the lines after the first one."""

    def __init__(self, hands: Sequence[str]) -> None:
        self.ended = ""
        self._hands = hands
        self._onsets: list[tuple[float, str]] = []
        self._final: list[tuple[float, str]] | None = None
        self._gaps: list[tuple[float, float]] = []
        self._noise_floor_ms: float | None = None
        self._stopped: float | None = None
        self._calibrated = False

    def add(self, values: dict[str, Any] | None) -> bool:
        """Add one line, and return whether it could be read."""
        try:
            if values is None:
                return False
            if "end" in values:
                self._end(values)
            elif "gap" in values:
                start, end = values["gap"]
                self._gaps.append((_seconds(start), _seconds(end)))
            else:
                self._onsets.append(self._onset(values["time"], values["hand"]))
        except (KeyError, TypeError, ValueError, OverflowError):
            return False
        return True

    def _onset(self, time: float | None, hand: str) -> tuple[float, str]:
        if hand not in self._hands:
            raise ValueError("another hand")
        return (math.nan if time is None else _seconds(time)), hand

    def _end(self, values: dict[str, Any]) -> None:
        final = [self._onset(t, h) for t, h in zip(values["time"], values["hand"], strict=True)]
        gaps = [(_seconds(a), _seconds(b)) for a, b in values["unmeasurable"]]
        floor = values.get("noise_floor_ms")
        self._noise_floor_ms = None if floor is None else _seconds(floor)
        stopped = values["stopped"]
        self._stopped = None if stopped is None else _seconds(stopped)
        self._calibrated = values.get("calibrated") is True
        self._final, self._gaps, self.ended = final, gaps, str(values["end"])

    def take(self, plan: Plan, observed_by: ObservedBy) -> Take:
        rows = self._onsets if self._final is None else self._final
        if self._final is None:
            # broken off: what was asked for after its last sign of life was never answered because nobody listened
            self._stopped = max([time for time, _ in rows if not math.isnan(time)], default=0.0)
        return make_take(
            plan,
            rows,
            observed_by=observed_by,
            stopped=self._stopped,
            noise_floor_ms=self._noise_floor_ms,
            unmeasurable=tuple(self._gaps),
            calibrated=self._calibrated,
        )

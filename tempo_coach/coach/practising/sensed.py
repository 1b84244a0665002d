"""Takes observed by a live source: its data put on the take clock.

Onsets go into a take as they are. Readings of worn sensors are followed as a table of theirs would be.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach import coach
from tempo_coach.coach.placing import Placed, place_trace
from tempo_coach.coach.practising.practice import FinishedTake, after_writing, write_beside
from tempo_coach.errors import CoachError
from tempo_coach.languages import tr_as
from tempo_coach.live.inputs.source import Collected
from tempo_coach.live.notices import Code, Notice
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.observe.take.take_file import make_take
from tempo_coach.observe.trace.trace import Channel, Trace
from tempo_coach.pattern.plan.layout import cut_short

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from tempo_coach.coach.notices import News
    from tempo_coach.coach.practising.movement import Movement
    from tempo_coach.live.audio.playback import Player
    from tempo_coach.live.practice.session import PracticeState
    from tempo_coach.observe.observers import ObservedBy
    from tempo_coach.observe.take.take_writer import TakeWriter
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.times import Floats

#: Bound of the stamps beyond which early and late of the whole is not told: about half of the least lateness that is.
SUREST = 0.015
#: Seconds that a take waits for what is still to come; whatever comes later is added, and the take judged again.
WAITS = 3.0
#: Seconds between two stamps whose places on the take clock are asked for; what lies between is interpolated.
_STEP = 0.25
#: Told of a take that is judged before all of it is here.
AWAITED = Notice(Code.ROWS_AWAITED)
#: What a file's name has after it where what was worn shows other moments than were asked for.
SHOWN_BY = "worn"
#: Seconds between two stamps at which the map of a take's clock is kept, and around the take.
_MAP_STEP, _AROUND = 0.05, 3.0
_AXES = ("ax", "ay", "az", "wx", "wy", "wz")


@dataclass(frozen=True, eq=False)
class OnTakeClock:
    """Data of a source on the take clock.

    Parameters
    ----------
    onsets : sequence of (time, hand)
        NaN where there is no place.
    readings : mapping of hand to numpy.ndarray, shape (n, 7)
        Take time, accelerations, rates.
    gaps : sequence of (start, end)
    """

    onsets: Sequence[tuple[float, str]]
    readings: Mapping[str, Floats] = field(default_factory=dict)
    gaps: Sequence[tuple[float, float]] = ()


def freeze_take_time(player: Player | None, start: float, end: float) -> Callable[[float], float]:
    """Return a player's present map from stamps to the take clock, which its next take replaces.

    Parameters
    ----------
    player : Player or None
    start, end : float
        Stamps between which the take ran.
    """
    if player is None or not math.isfinite(start):
        return lambda _: math.nan
    stamps = np.arange(start - _AROUND, end + _MAP_STEP, _MAP_STEP)
    times = np.array([player.take_time(stamp) for stamp in stamps.tolist()])
    return lambda stamp: float(np.interp(stamp, stamps, times, left=np.nan, right=np.nan))


def put_on_take_clock(found: Collected, take_time: Callable[[float], float]) -> OnTakeClock:
    """Return the data of a source on the take clock."""
    spans = [(take_time(start), take_time(end)) for start, end in found.gaps]
    readings = {hand: _place(rows, take_time) for hand, rows in found.readings.items() if len(rows)}
    return OnTakeClock(
        [(take_time(stamp), hand) for stamp, hand in found.onsets],
        {hand: table for hand, table in readings.items() if len(table)},
        [(start, end) for start, end in spans if math.isfinite(start) and math.isfinite(end)],
    )


def _place(rows: Sequence[Sequence[float]], take_time: Callable[[float], float]) -> Floats:
    table = np.array(rows, dtype=np.float64)
    grid = np.arange(table[0, 0] - _STEP, table[-1, 0] + 2 * _STEP, _STEP)
    table[:, 0] = np.interp(table[:, 0], grid, [take_time(stamp) for stamp in grid.tolist()])
    table = table[np.isfinite(table[:, 0])]
    later = np.diff(table[:, 0], prepend=-np.inf) > 0
    return np.asarray(table[later])


def judge_sensed(
    found: Collected,
    placed: OnTakeClock,
    plan: Plan,
    *,
    observed_by: ObservedBy,
    stopped: float | None,
    unmeasurable: Sequence[tuple[float, float]] = (),
    device: str = "",
) -> FinishedTake:
    """Return the judged take of a source, as by :func:`place_sensed`, with what it was played through."""
    placed_take, error = place_sensed(
        found, placed, plan, observed_by=observed_by, stopped=stopped, unmeasurable=unmeasurable
    )
    return _finished(placed_take, device, *(() if error is None else (error,)))


def place_sensed(
    found: Collected,
    placed: OnTakeClock,
    plan: Plan,
    *,
    observed_by: ObservedBy,
    stopped: float | None,
    unmeasurable: Sequence[tuple[float, float]] = (),
) -> tuple[Placed, CoachError | None]:
    """Return the take of a source, and the reason why its readings show none.

    Parameters
    ----------
    found : Collected
    placed : OnTakeClock
        The same on the take clock.
    plan : Plan
        What was asked for.
    observed_by : str
    stopped : float or None
        Take time at which it was ended early.
    unmeasurable : sequence of (start, end)
        Where sound was lost.
    """
    gaps = tuple(sorted([*unmeasurable, *placed.gaps]))
    absolute = found.half_width <= SUREST
    if not placed.readings:
        take = make_take(
            plan,
            placed.onsets,
            observed_by=observed_by,
            stopped=stopped,
            noise_floor_ms=found.noise_floor_ms,
            unmeasurable=gaps,
            calibrated=found.calibrated,
        )
        return Placed(take, absolute, None), None
    asked = plan if stopped is None else cut_short(plan, stopped)
    try:
        seen = place_trace(make_trace(placed.readings, asked.hands), asked, clap=(0.0, 0.0))
    except CoachError as error:
        nothing = Take(asked, Onsets.unsorted([], []), observed_by=observed_by, unmeasurable=gaps)
        return Placed(nothing, absolute, None), error
    take = replace(
        seen.take,
        observed_by=observed_by,
        noise_floor_ms=found.noise_floor_ms,
        unmeasurable=gaps,
        calibrated=found.calibrated,
    )
    return Placed(take, absolute and seen.absolute, None), None


def _finished(placed: Placed, device: str, *told: News) -> FinishedTake:
    card = coach.judge_placed(placed)
    return FinishedTake(placed.take, card, None, device=device, told=told, placed=placed.absolute)


def make_trace(readings: Mapping[str, Floats], hands: Sequence[str]) -> Trace:
    """Return the readings of one or two worn sensors as one trace, a point a hand, at the times of the first."""
    names = [hand for hand in hands if hand in readings][:2]
    time: Floats = readings[names[0]][:, 0]
    values, channels = [], []
    for name in names:
        table = readings[name]
        for k, axis in enumerate(_AXES, start=1):
            quantity, unit = ("acceleration", "m/s²") if axis[0] == "a" else ("rotation", "rad/s")
            values.append(np.interp(time, table[:, 0], table[:, k], left=np.nan, right=np.nan))
            channels.append(Channel(f"{axis} {name}", quantity, axis[1], name, unit))  # type: ignore[arg-type]
    return Trace(time, np.column_stack(values), channels)


def beats_of(plan: Plan, movement: Movement) -> list[tuple[float, str, int, str]]:
    """Return the counts of a take for a display: take time, text, eight (0 for the lead-in), and the move."""
    from tempo_coach.coach.practising.picture import say_number_of_count

    first = math.ceil(float(plan.knot_counts[0]) - 1e-6)
    beats = []
    for count in range(first, math.floor(float(plan.knot_counts[-1]) + 1e-6) + 1):
        time = float(np.interp(count, plan.knot_counts, plan.knot_times))
        lead_in = count < plan.first_count - 1e-6
        now, _ = movement.at(float(count))
        eight = 0 if lead_in else int(plan.place(float(count)).eight)
        beats.append(
            (time, say_number_of_count(plan, float(count), 1.0), eight, tr_as("phase", now.name) if now else "")
        )
    return beats


@dataclass
class SensedTake:
    """A finished take whose source may still have data of it.

    Parameters
    ----------
    session : PracticeState
        As it ended.
    observed_by : str
    take_time : callable
        From stamps to the take clock, as it was when the take ended.
    gaps : sequence of (start, end)
        Where sound was lost.
    device : str
    writer : TakeWriter or None
    since : float
        When it ended.
    """

    session: PracticeState
    observed_by: ObservedBy
    take_time: Callable[[float], float]
    gaps: Sequence[tuple[float, float]]
    device: str
    writer: TakeWriter | None
    since: float
    judged: Collected | None = None
    busy: bool = False
    kept: bool = False

    def is_due(self, found: Collected | None, now: float) -> Collected | None:
        """Return the data to be judged now; None while waiting, or without news."""
        if self.busy or self.kept:
            return None
        if self.judged is None:
            if found is not None and found.complete:
                return found
            return (found or Collected(complete=False)) if now - self.since > WAITS else None
        return found if found is not None and found is not self.judged and _is_more(found, self.judged) else None

    def settle(self, done: FinishedTake) -> FinishedTake:
        """Write the take as known now, and close its file."""
        self.kept, writer = True, self.writer
        done = replace(done, told=tuple(each for each in done.told if each != AWAITED))
        if writer is None:
            return done
        take = done.take
        followed = self.judged is not None and bool(self.judged.readings) and self.observed_by != "phone"
        if followed and take.plan is not self.session.plan and take.onsets.hand:
            # what could be followed of a sensor is another plan: a file of its own, in the place of the one that ran
            beside = write_beside(
                replace(done, path=writer.path, homeless=None if writer.whole else writer), how=SHOWN_BY
            )
            if beside.path is not None:
                writer.discard()
                return beside
        rows = list(zip(take.onsets.time.tolist(), take.onsets.hand, strict=True))
        writer.finish(
            rows,
            how=self.session.how_ended,
            stopped=self.session.stopped,
            noise_floor_ms=take.noise_floor_ms,
            unmeasurable=take.unmeasurable,
            calibrated=take.calibrated,
        )
        return after_writing(done, writer)

    def judge(self, found: Collected) -> Callable[[], FinishedTake]:
        """Return a function that judges it, to be run elsewhere."""
        self.judged, self.busy = found, True
        return lambda: judge_sensed(
            found,
            put_on_take_clock(found, self.take_time),
            self.session.plan,
            observed_by=self.observed_by,
            stopped=self.session.stopped,
            unmeasurable=self.gaps,
            device=self.device,
        )


def _is_more(found: Collected, judged: Collected) -> bool:
    """Return whether there are more rows, or certainty that there are none."""

    def size(of: Collected) -> int:
        return len(of.onsets) + sum(map(len, of.readings.values()))

    return size(found) != size(judged) or found.complete != judged.complete

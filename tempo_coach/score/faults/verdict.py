"""The findings of a take: what happened, as ranked values, from the whole to its parts.

First what the whole take was (no rhythm, another tempo, hands swapped, a late entry, an early stop), then what holds
all through it (all of it late, a lag, a drift), then single cycles, then single moments. Of two that explain the same,
the one that leaves less unexplained comes first; what would give the same onsets in this plan is named with it.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.score.faults.detection import Fault, find_faults
from tempo_coach.score.faults.equivalents import same_kinds
from tempo_coach.score.faults.findings import Finding
from tempo_coach.score.faults.merged import Merged, merge, position_of
from tempo_coach.score.faults.models import MOMENT, RAMP, STEP
from tempo_coach.score.pairing.hand import period_asked, unasked

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.score.faults.findings import Happened
    from tempo_coach.score.measures.timekeeping import Measure
    from tempo_coach.score.pairing.frames import Frames
    from tempo_coach.score.pairing.hand import HandTake
    from tempo_coach.score.scorecard import LagCard
    from tempo_coach.times import Floats, Ints

#: Onsets that answer moments, and cycles with one, from which on there is anything to tell.
LEAST_PAIRS, LEAST_CYCLES = 4, 3
#: Tempo, over the one asked, that is another one; and share of the interval that cannot be heard (Friberg & Sundberg
#: 1995, abstract).
OTHER_TEMPO, HEARD = 0.02, 0.025
#: Seconds under which a displaced moment cannot be heard, however short the interval (the same).
LEAST_HEARD = 0.006
#: Seconds by which a whole take may lie behind the music, or ahead of it, before it is a fault: people lead a click by
#: several tens of ms without knowing (Aschersleben 2002, abstract). And the SDs by which it has to be more than that,
#: or, being more, has to differ from none: by chance in one take of a hundred.
LATE_FROM, EARLY_FROM, LEVEL_SURE, LEVEL_NOT_NONE = 0.05, 0.075, 2.0, 2.6
#: Common lateness, in cycles, that is half a cycle; and how near to whole cycles a late entry is.
HALF, WHOLE = (0.35, 0.65), 0.2
#: Share of the cycle, and moments, that have to be left out at an end for a late entry or an early stop.
END_SHARE, END_MOMENTS = 0.45, 2
#: How many times its interval a lag, a drift or a common lateness has to be off: of many that are looked at, none by
#: chance in 97 of 100 takes.
SURE = 1.6
#: SDs by which a tempo or a drift has to differ from none; and a drift where the tempo of the whole does anyway.
TEMPO_SURE, DRIFT_SURE = 3.5, 2.2
#: How often a finding that comes first is right, where it does not depend on its size: 1,151 takes of all drills, four
#: kinds of performer and 24 ways of going wrong, each as usual as the other.
SURE_OF = {
    "even": 0.65,
    "no_rhythm": 0.98,
    "too_little": 0.98,
    "other_tempo": 0.97,
    "hands_swapped": 0.97,
    "late_entry": 0.97,
    "stopped": 0.97,
    "drifting": 0.96,
    "half_cycle_off": 0.96,
    "lag_off": 0.96,
    "all_late": 0.85,
    "all_early": 0.93,
    "missed": 0.97,
    "extra": 0.97,
}
#: Of what broke: the surest there is, the gain that is right in half of the cases, and the confidence from which on it
#: comes before what was missed.
MOST_SURE, GAIN_AT_EVENS, PLAIN = 0.95, 2.0, 0.9
#: Findings of one cycle that have a size.
WHOLE_CYCLE = frozenset({"long", "short", "hesitated", "slipped", "late", "early"})
#: Findings that are a shift of all of it: none of them is said of another one.
SHIFTED = frozenset({"all_late", "all_early", "late_entry", "slipped"})
#: How near to whole counts a step has to be for a slip, in counts.
SLIP_WITHIN = 0.2
#: A missing moment lies in a jump if it is no further from its begin than the jump is long, and so many counts.
JUMP_WITHIN = 0.5


def find_what_happened(
    take: Take,
    hands: Sequence[HandTake],
    frames: Frames,
    *,
    measures: Mapping[str, Measure],
    lags: Sequence[LagCard],
) -> tuple[Finding, ...]:
    """Return what happened in a take, the first thing first.

    Parameters
    ----------
    take : Take
    hands : sequence of HandTake
    frames : Frames
    measures : mapping of str to Measure
        Of the scorecard, with their intervals.
    lags : sequence of LagCard
    """
    merged = merge(take, hands, frames)
    pairs = int((~np.isnan(merged.late)).sum())
    cycles = len(np.unique(take.plan.moments.cycle[merged.moment[~np.isnan(merged.late)]])) if pairs else 0
    onsets = len(take.onsets)
    if onsets >= 3 * LEAST_PAIRS and frames.no_rhythm < frames.best.cost:
        return (Finding("no_rhythm", confidence=SURE_OF["no_rhythm"]),)
    if pairs < LEAST_PAIRS or cycles < LEAST_CYCLES:
        return (Finding("too_little", confidence=SURE_OF["too_little"]),)
    teller = _Teller(take, hands, frames, merged, measures, lags)
    found = [
        *teller.tempo(),
        *teller.swapped(),
        *teller.ends(),
        *teller.parts(),
    ]
    return tuple(found) or (Finding("even", confidence=SURE_OF["even"]),)


def _odds(nats: float) -> float:
    """Probability of what is that many nats likelier than the alternative."""
    return float(1 / (1 + np.exp(-np.clip(nats, -50, 50))))


class _Teller:
    """One take, asked one thing after another."""

    def __init__(
        self,
        take: Take,
        hands: Sequence[HandTake],
        frames: Frames,
        merged: Merged,
        measures: Mapping[str, Measure],
        lags: Sequence[LagCard],
    ) -> None:
        self.take, self.hands, self.frames, self.merged = take, hands, frames, merged
        self.measures, self.lags = measures, lags
        self.plan = take.plan
        self.period = period_asked(take)
        self.count = self.period / self.plan.cycle_counts
        self.tolerance = max(self.plan.allowance, HEARD)
        self.explained = find_faults(merged.layout, merged.hand, merged.late)

    # --- the whole take ---------------------------------------------------------------------------------------------

    def tempo(self) -> list[Finding]:
        """Another tempo, or a drift that begins at the tempo asked."""
        drift, frame = self.explained.drift, self.frames.best.ratio
        cycles = float(np.ptp(self.merged.layout.position))
        whole = drift.value * cycles * frame
        mean = frame * (1 + self.explained.tempo.value)
        other_mean = abs(mean - 1) > OTHER_TEMPO
        drifts = drift.is_beyond(DRIFT_SURE if other_mean else TEMPO_SURE) and abs(whole) > self.tolerance
        drifting = Finding(
            "drifting", ratio=1 + whole, by_ms=whole * self.period * 1000, confidence=SURE_OF["drifting"]
        )
        begin = mean - whole / 2
        if drifts and abs(begin - 1) < abs(whole) / 2:
            return [drifting]
        other = mean if self.explained.tempo.is_beyond(TEMPO_SURE) else frame
        found = (
            []
            if abs(other - 1) <= OTHER_TEMPO
            else [
                Finding(
                    "other_tempo",
                    ratio=1 / other,
                    confidence=SURE_OF["other_tempo"],
                    same_as=self._same_as_tempo(other),
                )
            ]
        )
        return [*found, drifting] if drifts and not found else found

    def _same_as_tempo(self, ratio: float) -> tuple[str, ...]:
        steps = np.concatenate([np.diff(hand.asked[~np.isnan(hand.asked)]) for hand in self.hands])
        even = len(steps) > 0 and float(np.ptp(steps)) < 0.05 * float(np.median(steps))
        return ("missed",) if even and abs(ratio - 2) < 0.1 else ("extra",) if even and abs(ratio - 0.5) < 0.05 else ()

    def swapped(self) -> list[Finding]:
        """Each hand did what the other one was asked for."""
        if not self.frames.best.swapped:
            return []
        same = same_kinds(self.plan, self._places(0.0, swapped=True), but="hands_swapped")
        return [Finding("hands_swapped", confidence=SURE_OF["hands_swapped"], same_as=same)]

    def ends(self) -> list[Finding]:
        """A late entry, an early stop."""
        found: list[Finding] = []
        before = np.concatenate([hand.before for hand in self.hands])
        behind = np.concatenate([hand.behind for hand in self.hands])
        if self._is_end(before):
            counts = self._done_first() - float(self.plan.moments.count[before].min())
            found.append(
                Finding(
                    "late_entry",
                    by_counts=counts,
                    by_ms=counts * self.count * 1000,
                    confidence=SURE_OF["late_entry"],
                    same_as=same_kinds(self.plan, self._places(counts / self.plan.cycle_counts), but="late_entry"),
                )
            )
        if self._is_end(behind):
            cycle = int(self.plan.moments.cycle[behind].min())
            left = float(self.plan.moments.count[behind].max() - self.plan.moments.count[behind].min())
            found.append(Finding("stopped", cycle=cycle, by_counts=left, confidence=SURE_OF["stopped"]))
        return found

    def _is_end(self, left_out: Ints) -> bool:
        if len(left_out) < END_MOMENTS:
            return False
        per_cycle = len(self.plan.moments) / max(self.plan.cycles, 1)
        return len(left_out) >= END_SHARE * per_cycle

    def _done_first(self) -> float:
        return float(self.plan.moments.count[self.merged.moment[0]])

    def _places(self, shift: float, *, swapped: bool = False) -> dict[str, Floats]:
        """Where each hand's onsets lie in the cycle, 0 to 1, for a take that is shifted or has its hands swapped."""
        position = position_of(self.plan)
        hands = np.array(self.plan.moments.hand)
        names = list(self.plan.hands)
        own = {hand: np.unique(np.round((position[hands == hand] + shift) % 1.0, 4)) for hand in names}
        return dict(zip(names, [own[hand] for hand in reversed(names)], strict=True)) if swapped else own

    # --- all through it ---------------------------------------------------------------------------------------------

    def parts(self) -> list[Finding]:
        """What holds all through it before what broke, unless something broke by more."""
        through, cycles = self.all_through(), self.cycles()
        least = max((abs(each.by_ms) for each in through), default=math.inf)
        broke = [each for each in cycles if each.kind in WHOLE_CYCLE and abs(each.by_ms) > least]
        if through and through[0].kind in SHIFTED and any(each.confidence >= through[0].confidence for each in broke):
            return [*cycles, *through]
        return [*through, *cycles]

    def all_through(self) -> list[Finding]:
        """A lag, and all of it early or late."""
        rest = self.explained.rest
        middles = [
            float(np.nanmedian(rest[self.merged.hand == k]))
            if (~np.isnan(rest[self.merged.hand == k])).any()
            else math.nan
            for k in range(len(self.hands))
        ]
        lags = self._lags(middles)
        off = {each.hand for each in lags if not each.moment}
        kept = [
            m for m, hand in zip(middles, self.hands, strict=True) if hand.grid.hand not in off and not math.isnan(m)
        ]
        common = float(np.median(kept)) if kept else 0.0
        return [*self._common(common), *lags]

    def _common(self, common: float) -> list[Finding]:
        if self.frames.best.ratio != 1:  # at another tempo it lies beside the music by something else at every moment
            return []
        size, whole = abs(common), round(common)
        counts = common * self.plan.cycle_counts
        by_ms = common * self.period * 1000
        same = same_kinds(self.plan, self._places(common), but="")
        if HALF[0] <= size <= HALF[1]:
            return [
                Finding(
                    "half_cycle_off", by_ms=by_ms, by_counts=counts, confidence=SURE_OF["half_cycle_off"], same_as=same
                )
            ]
        if size > HALF[1] and abs(common - whole) < WHOLE:
            return [
                Finding("late_entry", by_ms=by_ms, by_counts=counts, confidence=SURE_OF["late_entry"], same_as=same)
            ]
        least = LATE_FROM if common > 0 else EARLY_FROM
        common = self._before_a_jump(common)
        level, sd = abs(self.explained.level.value), self.explained.level.sd
        sure = (level - LEVEL_SURE * sd) * self.period > least or level > LEVEL_NOT_NONE * sd
        if sure and abs(common) * self.period > least:
            kind = "all_late" if common > 0 else "all_early"
            same = tuple(each for each in same if each not in SHIFTED)
            return [Finding(kind, by_ms=by_ms, by_counts=counts, confidence=SURE_OF[kind], same_as=same)]  # type: ignore[arg-type]
        return []

    def _before_a_jump(self, common: float) -> float:
        """The common lateness, or less before the first long cycle or step: what came of that is none of its own."""
        jumps = [fault for fault in self.explained.faults if fault.kind != MOMENT]
        if not jumps:
            return common
        before = self.merged.late[self.merged.layout.position < jumps[0].cycle]
        before = before[~np.isnan(before)]
        if len(before) < LEAST_PAIRS:
            return 0.0
        least = float(np.median(before))
        return 0.0 if least * common < 0 else min(least, common, key=abs)

    def _lags(self, middles: list[float]) -> list[Finding]:
        """Hands or moments that are off their place beside the others in every cycle."""
        found = []
        period = self.period * self.frames.best.ratio
        for lag in self.lags:
            error, half = lag.lag.error, lag.lag.half_interval
            if math.isnan(error) or math.isnan(half) or abs(error) / 360 <= self.tolerance:
                continue
            if abs(error) > SURE * half:
                by = error / 360
                found.append(
                    Finding(
                        "lag_off",
                        hand=lag.of,
                        moment=lag.label,
                        by_ms=by * period * 1000,
                        by_counts=by * self.plan.cycle_counts,
                        confidence=SURE_OF["lag_off"],
                    )
                )
        found.sort(key=lambda each: -abs(each.by_ms))
        if len(self.hands) == 2 and found:
            second = self.hands[1].grid.hand
            of_second = [each for each in found if each.hand == second]
            if len(of_second) == sum(lag.of == second for lag in self.lags):
                apart = middles[1] - middles[0]
                # which of the two is off its own place?
                off = second if abs(middles[1]) >= abs(middles[0]) else self.hands[0].grid.hand
                by = apart if off == second else -apart
                done = {hand.grid.hand: middle for hand, middle in zip(self.hands, middles, strict=True)}
                same = same_kinds(self.plan, self._places_of(done), but="lag_off")
                whole = Finding(
                    "lag_off",
                    hand=off,
                    by_ms=by * period * 1000,
                    by_counts=by * self.plan.cycle_counts,
                    confidence=SURE_OF["lag_off"],
                    same_as=same,
                )
                found = [whole, *(each for each in found if each.hand != second)]
        return found

    def _places_of(self, shifts: Mapping[str, float]) -> dict[str, Floats]:
        plain = self._places(0.0)
        return {hand: np.unique(np.round((place + shifts.get(hand, 0.0)) % 1.0, 4)) for hand, place in plain.items()}

    # --- single cycles and moments ------------------------------------------------------------------------------------

    def cycles(self) -> list[Finding]:
        """What broke, the longest first, then what was missed or too many, then single moments."""
        found: list[Finding] = []
        jumped_over: set[int] = set()
        for fault in self.explained.faults:
            each = self._fault(fault)
            if each is None:
                continue
            missing = self._jumped_over(fault, each)
            if missing:  # the jump and what is missing in it say the same
                each = each._replace(confidence=max(each.confidence, SURE_OF["missed"]))
                jumped_over.update(missing)
            found.append(each)
        whole = [each for each in found if each.kind not in ("late", "early")]
        single = [each for each in found if each.kind in ("late", "early")]
        whole.sort(key=lambda each: (each.confidence < PLAIN, -abs(each.by_ms)))
        single.sort(key=lambda each: -abs(each.by_ms))
        plain = [each for each in whole if each.confidence >= PLAIN]
        return [*plain, *self._left_over(jumped_over), *whole[len(plain) :], *single]

    def _jumped_over(self, fault: Fault, found: Finding) -> list[int]:
        """Moments that are missing because she jumped ahead over them."""
        if found.kind != "slipped" or not found.by_counts < 0:
            return []
        hands = self.hands if fault.hand < 0 else [self.hands[fault.hand]]
        missed, count = np.concatenate([hand.missed for hand in hands]), self.plan.moments.count
        away = np.abs(count[missed] - count[self.merged.moment[fault.moment]])
        jumped: list[int] = missed[away <= JUMP_WITHIN - found.by_counts].tolist()
        return jumped

    def _fault(self, fault: Fault) -> Finding | None:
        moments, confidence = self.plan.moments, MOST_SURE * fault.share * _odds(fault.gain - GAIN_AT_EVENS)
        at = int(self.merged.moment[fault.moment]) if fault.moment >= 0 else -1
        seconds = fault.by * self.period * self.frames.best.ratio
        hand = "" if fault.hand < 0 else self.hands[fault.hand].grid.hand
        by_ms, by_counts = seconds * 1000, fault.by * self.plan.cycle_counts
        same = tuple(self._kind_of(*rival) for rival in fault.rivals)
        if fault.kind == RAMP:
            if abs(fault.by) <= self.tolerance:
                return None
            kind = self._kind_of(RAMP, fault.by)
            return Finding(kind, fault.cycle, hand, "", by_ms, by_counts, 1 + fault.by, confidence, same)
        if fault.kind == MOMENT:
            mine = moments.of_hand(moments.hand[at])
            step = float(np.median(np.diff(moments.time[mine]))) if len(mine) > 1 else self.period
            if abs(seconds) <= max(self.plan.allowance * step, LEAST_HEARD):
                return None
            kind, label, whose = self._kind_of(MOMENT, fault.by), moments.label[at], moments.hand[at]
            return Finding(kind, fault.cycle, whose, label, by_ms, by_counts, math.nan, confidence, same)
        if abs(fault.by) <= self.tolerance:
            return None
        kind, label = self._kind_of(STEP, fault.by), moments.label[at]
        same = ("hesitated", *same) if kind == "slipped" else same
        return Finding(kind, fault.cycle, hand, label, by_ms, by_counts, math.nan, confidence, same)

    def _kind_of(self, shape: int, by: float) -> Happened:
        """How a fault of a shape and a size in cycles is called."""
        if shape == RAMP:
            return "long" if by > 0 else "short"
        if shape == MOMENT:
            return "late" if by > 0 else "early"
        counts = by * self.plan.cycle_counts
        slip = abs(counts - round(counts)) < SLIP_WITHIN and round(counts) != 0
        return "slipped" if slip or counts < 0 else "hesitated"

    def _left_over(self, told_already: set[int]) -> list[Finding]:
        moments = self.plan.moments
        ends = self.ends()
        told = {each.kind for each in ends}
        positions = [k for hand in self.hands for k in hand.missed.tolist()]
        if "late_entry" not in told:
            positions += [k for hand in self.hands for k in hand.before.tolist()]
        if "stopped" not in told:
            positions += [k for hand in self.hands for k in hand.behind.tolist()]
        found = [
            Finding("missed", int(moments.cycle[k]), moments.hand[k], moments.label[k], confidence=SURE_OF["missed"])
            for k in sorted(set(positions) - told_already)
        ]
        for hand in self.hands:
            mine, done = moments.of_hand(hand.grid.hand), self._times_of(hand)
            before = np.clip(np.searchsorted(done, hand.extra) - 1, 0, len(mine) - 1)
            found += [
                Finding("extra", cycle, hand.grid.hand, confidence=SURE_OF["extra"])
                for cycle in moments.cycle[mine[before]].tolist()
            ]
        for name, times in unasked(self.take, list(self.hands)).items():
            before = np.clip(np.searchsorted(moments.time, times) - 1, 0, len(moments) - 1)
            found += [
                Finding("extra", cycle, name, confidence=SURE_OF["extra"]) for cycle in moments.cycle[before].tolist()
            ]
        return found

    def _times_of(self, hand: HandTake) -> Floats:
        """When each moment of a hand was done, or would have been; ascending."""
        order = hand.grid.in_order
        asked = self.plan.moments.time[order]
        done = hand.observed[hand.grid.at >= 0]
        known = ~np.isnan(done)
        late = np.interp(asked, asked[known], (done - asked)[known]) if known.any() else 0.0
        return np.maximum.accumulate(asked + late)

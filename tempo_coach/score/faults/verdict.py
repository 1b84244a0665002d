"""The findings of a take: what happened, as ranked values, from the whole to its parts.

First what the whole take was (no rhythm, another tempo, hands swapped, a late entry, an early stop), then what holds
all through it (all of it late, a lag, a drift), then single cycles, then single moments. Of two that explain the same,
the one that leaves less unexplained comes first; what would give the same onsets in this plan is named with it.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.score.faults.broken import Case, find_broken
from tempo_coach.score.faults.detection import find_faults
from tempo_coach.score.faults.equivalents import same_kinds
from tempo_coach.score.faults.findings import SURE_OF, Finding, sure_of_even, sure_of_level
from tempo_coach.score.faults.likelihood import UNKNOWN_ESTIMATE, Estimate
from tempo_coach.score.faults.merged import merge, position_of
from tempo_coach.score.faults.models import MOMENT
from tempo_coach.score.measures.intervals import half_interval
from tempo_coach.score.pairing.hand import period_asked

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.score.faults.findings import Happened
    from tempo_coach.score.faults.models import Layout
    from tempo_coach.score.pairing.hand import HandTake
    from tempo_coach.score.pairing.hypotheses import Hypotheses
    from tempo_coach.score.scorecard import LagCard
    from tempo_coach.times import Floats, Ints

#: Onsets that answer moments, and cycles with one, from which on there is anything to tell.
LEAST_PAIRS, LEAST_CYCLES = 4, 3
#: Tempo, over the one asked, that is another one; and share of the interval that cannot be heard (Friberg & Sundberg
#: 1995, abstract).
OTHER_TEMPO, HEARD = 0.02, 0.025
#: Seconds by which a whole take may lie behind the music, or ahead of it, before it is a fault: people lead a click by
#: several tens of ms without knowing (Aschersleben 2002, abstract).
LATE_FROM, EARLY_FROM = 0.05, 0.075
#: SDs by which the level then has to differ from none. The SD is the geometric mean of two, that of the models of
#: timing and that of the interval of the bias: on 540 tuning takes of 8 to 32 cycles the first was 2.7 times too wide
#: for who errs from step to step and .7 of what it should be for who wanders, the second 2.2 and 1.2 times too wide.
LEVEL_FROM = 2.0
#: Half of a 95 % interval, in SDs, less a fourteenth, by which that of the bias has become narrower since then.
STANDARD_HALF = 1.82
#: Common lateness, in cycles, that is half a cycle; and how near to whole cycles a late entry is.
HALF, WHOLE = (0.35, 0.65), 0.2
#: Share of the cycle, and moments, that have to be left out at an end for a late entry or an early stop.
END_SHARE, END_MOMENTS = 0.45, 2
#: How many times its interval a lag, a drift or a common lateness has to be off: of many that are looked at, none by
#: chance in 97 of 100 takes.
SURE = 1.6
#: SDs by which a tempo or a drift has to differ from none; and a drift where the tempo of the whole does anyway.
TEMPO_SURE, DRIFT_SURE = 3.5, 2.2
#: Findings of one cycle that have a size.
WHOLE_CYCLE = frozenset({"long", "short", "hesitated", "slipped", "late", "early"})
#: Findings that are counted, whatever the scatter; and those that nothing but its size tells from none.
COUNTED, ALL_OF_IT = frozenset({"missed", "extra"}), frozenset({"all_late", "all_early"})
#: Confidence from which on what holds all through it comes before what broke by less, however sure that is.
PLAINLY = 0.9
#: Findings that are a shift of all of it: none of them is said of another one.
SHIFTED = frozenset({"all_late", "all_early", "late_entry", "slipped"})


def find_what_happened(
    take: Take,
    hands: Sequence[HandTake],
    hypotheses: Hypotheses,
    *,
    lags: Sequence[LagCard],
) -> tuple[Finding, ...]:
    """Return the findings of a take, the first thing first; doubtful ones last, after ``even`` if need be.

    Parameters
    ----------
    take : Take
    hands : sequence of HandTake
    hypotheses : Hypotheses
    lags : sequence of LagCard
    """
    merged = merge(take, hands, hypotheses)
    pairs = int((~np.isnan(merged.late)).sum())
    cycles = len(np.unique(take.plan.moments.cycle[merged.moment[~np.isnan(merged.late)]])) if pairs else 0
    onsets = len(take.onsets)
    if onsets >= 3 * LEAST_PAIRS and hypotheses.no_rhythm < hypotheses.best.cost:
        return (Finding("no_rhythm", confidence=SURE_OF["no_rhythm"]),)
    if pairs < LEAST_PAIRS or cycles < LEAST_CYCLES:
        return (Finding("too_little", confidence=SURE_OF["too_little"]),)
    explained = find_faults(merged.layout, merged.hand, merged.late)
    case = Case(take, hands, hypotheses, merged, explained, period_asked(take), max(take.plan.allowance, HEARD))
    teller = _Teller(case, lags)
    found = [*teller.tempo(), *teller.swapped(), *teller.ends(), *teller.parts()]
    sure = [each for each in found if not each.is_doubtful]
    doubtful = [each for each in found if each.is_doubtful]
    return (*(sure or [Finding("even", confidence=sure_of_even(cycles, in_doubt=bool(doubtful)))]), *doubtful)


def _means_by_cycle(layout: Layout, late: Floats) -> Floats:
    """Return the mean lateness of each observed cycle, label means removed, in order of time."""
    known = np.flatnonzero(~np.isnan(late))
    _, label = np.unique(layout.label[known], return_inverse=True)
    _, cycle = np.unique(np.floor(layout.position[known] + 1e-9), return_inverse=True)
    values = late[known] - (np.bincount(label, weights=late[known]) / np.bincount(label))[label]
    means: Floats = np.bincount(cycle, weights=values) / np.bincount(cycle)
    return means


def _nearer(one: float, other: float) -> float:
    """Return which of two is nearer to 0, or 0 where it lies between them."""
    return 0.0 if one * other < 0 else min(one, other, key=abs)


class _Teller:
    """Looks for one kind of finding after another in a take."""

    def __init__(self, case: Case, lags: Sequence[LagCard]) -> None:
        self.case, self.lags = case, lags
        self.hands, self.hypotheses, self.merged, self.explained = (
            case.hands,
            case.hypotheses,
            case.merged,
            case.explained,
        )
        self.plan, self.period, self.tolerance = case.plan, case.period, case.tolerance
        self.count = self.period / self.plan.cycle_counts

    # --- the whole take ---------------------------------------------------------------------------------------------

    def tempo(self) -> list[Finding]:
        """Find another tempo, or a drift that begins at the asked tempo."""
        drift, ratio = self.explained.drift, self.hypotheses.best.ratio
        cycles = float(np.ptp(self.merged.layout.position))
        whole = drift.value * cycles * ratio
        mean = ratio * (1 + self.explained.tempo.value)
        other_mean = abs(mean - 1) > OTHER_TEMPO
        drifts = drift.is_beyond(DRIFT_SURE if other_mean else TEMPO_SURE) and abs(whole) > self.tolerance
        drifting = Finding(
            "drifting", ratio=1 + whole, by_ms=whole * self.period * 1000, confidence=SURE_OF["drifting"]
        )
        begin = mean - whole / 2
        if drifts and abs(begin - 1) < abs(whole) / 2:
            return [drifting]
        other = mean if self.explained.tempo.is_beyond(TEMPO_SURE) else ratio
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
        """Find hands that did each other's part."""
        if not self.hypotheses.best.swapped:
            return []
        same = same_kinds(self.plan, self._places(0.0, swapped=True), but="hands_swapped")
        return [Finding("hands_swapped", confidence=SURE_OF["hands_swapped"], same_as=same)]

    def ends(self) -> list[Finding]:
        """Find a late entry or an early stop."""
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
        """Return the phases of each hand's onsets, 0 to 1, for a take that is shifted or has its hands swapped."""
        position = position_of(self.plan)
        hands = np.array(self.plan.moments.hand)
        names = list(self.plan.hands)
        own = {hand: np.unique(np.round((position[hands == hand] + shift) % 1.0, 4)) for hand in names}
        return dict(zip(names, [own[hand] for hand in reversed(names)], strict=True)) if swapped else own

    # --- all through it ---------------------------------------------------------------------------------------------

    def parts(self) -> list[Finding]:
        """Put what holds throughout before what broke, unless that is surer, and larger where the former is clear."""
        through, cycles = self.all_through(), find_broken(self.case, {each.kind for each in self.ends()})
        if not through or through[0].kind not in SHIFTED:
            return [*through, *cycles]
        least = max(abs(each.by_ms) for each in through) if through[0].confidence >= PLAINLY else 0.0
        broke = [each for each in cycles if each.kind in WHOLE_CYCLE and abs(each.by_ms) > least]
        counted = [each for each in cycles if each.kind in COUNTED and through[0].kind in ALL_OF_IT]
        surer = any(each.confidence >= through[0].confidence for each in (*broke, *counted))
        return [*cycles, *through] if surer else [*through, *cycles]

    def all_through(self) -> list[Finding]:
        """Find a lag, or lateness or earliness throughout."""
        rest = self.explained.rest
        middles = [
            float(np.nanmedian(rest[self.merged.hand == k]))
            if (~np.isnan(rest[self.merged.hand == k])).any()
            else math.nan
            for k in range(len(self.hands))
        ]
        lags = self._lags(middles)
        if entries := self._entries_of_hands(middles):
            return [*entries, *lags]
        off = {each.hand for each in lags if not each.moment}
        kept = [
            m for m, hand in zip(middles, self.hands, strict=True) if hand.grid.hand not in off and not math.isnan(m)
        ]
        common = float(np.median(kept)) if kept else 0.0
        found = self._common(common, apart=bool(off))
        larger = [each for each in lags if off and found and abs(each.by_ms) > abs(found[0].by_ms)]
        return [*larger, *found, *(each for each in lags if each not in larger)]

    def _entries_of_hands(self, middles: list[float]) -> list[Finding]:
        """Find hands that lie whole cycles apart, which no lag shows: each that came in early or late."""
        if self.hypotheses.best.ratio != 1 or any(math.isnan(middle) for middle in middles):
            return []
        wholes = [round(middle) for middle in middles]
        if len(set(wholes)) < 2 or any(
            abs(middle - whole) > WHOLE for middle, whole in zip(middles, wholes, strict=True)
        ):
            return []
        return [
            Finding(
                "late_entry",
                hand=hand.grid.hand,
                by_ms=middle * self.period * 1000,
                by_counts=whole * self.plan.cycle_counts,
                confidence=SURE_OF["late_entry"],
            )
            for hand, middle, whole in zip(self.hands, middles, wholes, strict=True)
            if whole
        ]

    def _common(self, common: float, *, apart: bool) -> list[Finding]:
        """Find what all of it is off by; ``apart``: but for a hand that is off beside the others."""
        if (
            self.hypotheses.best.ratio != 1
        ):  # at another tempo it lies beside the music by something else at every moment
            return []
        common, level = self._level(common, apart=apart)
        size, whole = abs(common), round(common)
        counts = common * self.plan.cycle_counts
        by_ms = common * self.period * 1000
        shifted = self._places(common)
        same = same_kinds(self.plan, shifted, but="")
        if HALF[0] <= size <= HALF[1]:
            same = same_kinds(self.plan, shifted, but="half_cycle_off")
            return [
                Finding(
                    "half_cycle_off", by_ms=by_ms, by_counts=counts, confidence=SURE_OF["half_cycle_off"], same_as=same
                )
            ]
        if size > HALF[1] and abs(common - whole) < WHOLE:
            same = same_kinds(self.plan, shifted, but="late_entry")
            return [
                Finding("late_entry", by_ms=by_ms, by_counts=counts, confidence=SURE_OF["late_entry"], same_as=same)
            ]
        least = LATE_FROM if common > 0 else EARLY_FROM
        if size * self.period > least and level.is_beyond(LEVEL_FROM):
            kind: Happened = "all_late" if common > 0 else "all_early"
            same = tuple(each for each in same if each not in SHIFTED)
            sure = sure_of_level(abs(level.value) / max(level.sd, 1e-12))  # of a take without scatter it is 0
            return [Finding(kind, by_ms=by_ms, by_counts=counts, confidence=sure, same_as=same)]
        return []

    def _level(self, common: float, *, apart: bool) -> tuple[float, Estimate]:
        """Return the common lateness in cycles, and its certainty.

        Where a hand is off beside the other one the level of both is half of that, and the other hand's may be off too:
        that which is nearer to none counts, and none between them.
        Of a take with a long cycle or a step it is that before the first of them, or less: what came of it is none of
        its own.
        """
        rest, level, cycle = self.explained.rest, self.explained.level, np.floor(self.merged.layout.position + 1e-9)
        level = level._replace(value=_nearer(level.value, common)) if apart else level
        jumps = [fault.cycle for fault in self.explained.faults if fault.kind != MOMENT]
        if jumps:
            every, here = len(np.unique(cycle)), cycle < jumps[0]
            before = self.merged.late[here]
            before = before[~np.isnan(before)]
            if len(before) < LEAST_PAIRS:
                return 0.0, UNKNOWN_ESTIMATE
            least = float(np.median(before))
            common = _nearer(least, common)
            rest = np.where(here, rest, np.nan)
            level = Estimate(common, level.sd * math.sqrt(every / len(np.unique(cycle[here]))))
        by_cycle = _means_by_cycle(self.merged.layout, rest)
        half = half_interval(by_cycle, np.full(len(by_cycle), 1 / max(len(by_cycle), 1)), freed=0)
        sd = level.sd if math.isnan(half) else math.sqrt(level.sd * half / STANDARD_HALF)
        return common, Estimate(level.value, sd)

    def _lags(self, middles: list[float]) -> list[Finding]:
        """Find hands or moments that are displaced beside the others in every cycle."""
        found = []
        period = self.period * self.hypotheses.best.ratio
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

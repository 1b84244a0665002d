"""Hypotheses on the whole take, tested before its moments are paired for good.

A take at half the tempo, with the hands swapped, or begun an eight late has its own way of answering the plan. Each
such hypothesis is the plan as it would then be, paired with the onsets; the one that leaves least unexplained, what
it supposes counted as well, is the take's. All costs are in nats, minus the logarithm of how likely the onsets are.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.score.measures.period import robust_slope
from tempo_coach.score.pairing.search import Pairs, median_step, pair
from tempo_coach.score.pairing.slips import Paired, propose_slips

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.score.pairing.slips import Slip
    from tempo_coach.times import Floats, Ints

#: Nats for a missed moment, for an extra onset, and at most for all of them before entry, and after stopping.
ALONE, ENDS = 4.0, 6.0
#: Nats that swapped hands, half or double the tempo, and a tempo of her own cost beforehand.
SWAPPED, TWICE, FREE = 5.0, 3.0, 10.0
#: The same of a slip of all hands by one of some seven numbers of counts, and of one moment out of its place.
SLIPPED, DISPLACED = 6.0, 4.0
#: Prior scales of the common lateness and of the difference of the hands, shares of the cycle.
PRIOR_LATE, PRIOR_APART = 0.1, 0.04
#: Smallest scale of the changes of lateness, in median steps, and the nats that no rhythm costs beforehand.
LEAST_SCALE, NO_RHYTHM = 0.015, 2.0
#: Share of moments and onsets left alone from which on other tempi are tried, and the tempo that counts as another.
SUSPICIOUS, OTHER_TEMPO = 0.08, 0.01
#: Difference of the hands' lateness, in cycles, from which on swapped hands are tried.
APART = 0.1
#: Pairs from which on the slope of lateness is taken; more are drawn evenly from a long take.
SLOPE_PAIRS = 200


class HandStream(NamedTuple):
    """One hand's part in seconds: asked times and their cycles, and its onsets, both ascending."""

    asked: Floats
    cycle: Ints
    onsets: Floats


@dataclass(frozen=True, eq=False)
class Hypothesis:
    """One explanation of how the whole take answers the plan.

    Parameters
    ----------
    ratio : float
        Her period over the period asked.
    swapped : bool
        Whether each hand did what the other one was asked for.
    answers : tuple of arrays of int
        For each part the onset of each of its moments, or -1; where hands are swapped, of the other part's onsets.
    extra : tuple of arrays of int
        For each part the onsets that answer nothing.
    cost : float
        Nats.
    slip : Slip or None
        By what all hands went ahead, or stayed behind, from some moment on.
    """

    ratio: float
    swapped: bool
    answers: tuple[Ints, ...]
    extra: tuple[Ints, ...]
    cost: float
    slip: Slip | None = None


@dataclass(frozen=True, eq=False)
class Hypotheses:
    """The tested hypotheses, the best one first, and the cost of no rhythm at all."""

    tried: tuple[Hypothesis, ...]
    no_rhythm: float

    @property
    def best(self) -> Hypothesis:
        """The hypothesis of least cost."""
        return self.tried[0]


def find_hypotheses(parts: Sequence[HandStream], *, period: float, end: float, counts: float = 0.0) -> Hypotheses:
    """Return the explanations of how a take may answer its plan.

    Parameters
    ----------
    parts : sequence of HandStream
        One for each hand.
    period : float
        Seconds asked for a cycle.
    end : float
        Seconds at which the plan ends: what would have come later is not missed.
    counts : float
        Counts of a cycle; without, slips of all hands together are not looked for.
    """
    plain = _Trial(parts, period, end)
    hypotheses = [plain.lay(1.0)]
    first = hypotheses[0]
    total = sum(len(part.asked) + len(part.onsets) for part in parts)
    alone = sum(int((answer < 0).sum()) for answer in first.answers) + sum(map(len, first.extra))
    ratios = [1.0]
    if alone > SUSPICIOUS * total:
        ratios += [0.5, 2.0, plain.ratio_by_cycles()]
    ratios.append(1 + plain.slope(first))
    for ratio in ratios[1:]:
        if abs(ratio - 1) > OTHER_TEMPO and 0.3 < ratio < 3:
            hypotheses.append(plain.lay(ratio))
            refined = ratio * (1 + plain.slope(hypotheses[-1])) if ratio not in (0.5, 2.0) else ratio
            if abs(refined - ratio) > OTHER_TEMPO:
                hypotheses.append(plain.lay(refined))
    if len(parts) == 2 and (alone > SUSPICIOUS * total or plain.apart(min(hypotheses, key=_cost)) > APART):
        hypotheses += [plain.lay(hypothesis.ratio, swapped=True) for hypothesis in tuple(hypotheses)]
    best = min(hypotheses, key=_cost)
    if best.ratio == 1 and not best.swapped and counts > 0:
        paired = [Paired(part.asked, part.onsets, answer) for part, answer in zip(parts, best.answers, strict=True)]
        slips = propose_slips(paired, count=period / counts, counts=int(np.ceil(counts)))
        slipped = [plain.lay(1.0, slip=slip) for slip in slips]
        hypotheses += [each for each in slipped if each.cost < plain.cost_of_one_moment(best, each.slip)]
    gaps = [np.diff(part.onsets) / plain.step for part in parts if len(part.onsets) > 1]
    mean = [float(np.mean(each)) for each in gaps]
    no_rhythm = NO_RHYTHM + sum(len(g) * (np.log(max(m, 1e-9)) + 1) for g, m in zip(gaps, mean, strict=True))
    return Hypotheses(tuple(sorted(hypotheses, key=_cost)), float(no_rhythm) if gaps else np.inf)


def _cost(hypothesis: Hypothesis) -> float:
    return hypothesis.cost


class _Trial:
    """A take to be laid on its plan at some tempo, with or without swapped hands."""

    def __init__(self, parts: Sequence[HandStream], period: float, end: float) -> None:
        self.parts, self.period, self.end = parts, period, end
        self.start = min((float(part.asked[0]) for part in parts if len(part.asked)), default=0.0)
        steps = [median_step(part.asked) for part in parts if len(part.asked) > 1]
        self.step = float(np.median(steps)) if steps else period

    def lay(self, ratio: float, *, swapped: bool = False, slip: Slip | None = None) -> Hypothesis:
        """Pair the take with the plan as it would be at a tempo, or with a slip."""
        onsets = [part.onsets for part in self.parts]
        if swapped:
            onsets.reverse()
        answers, extra, cost, middles = [], [], 0.0, []
        for part, done in zip(self.parts, onsets, strict=True):
            which = np.arange(len(part.asked)) if slip is None else np.flatnonzero(~slip.left_out(part.asked))
            asked = self.start + ratio * (part.asked[which] - self.start)
            times, again = self._repeated(asked if slip is None else slip.shift(asked), ratio)
            step = median_step(part.asked) * min(ratio, 1.0)
            pairs = pair(times, done, step=step, period=ratio * self.period)
            own = pairs.expected < len(asked)
            answer = np.full(len(part.asked), -1, dtype=np.int64)
            answer[which[pairs.expected[own]]] = pairs.observed[own]
            answers.append(answer)
            extra.append(pairs.extra)
            late = done[pairs.observed] - times[pairs.expected]
            cost += self._cost_of(times, done, pairs, late, again)
            # an onset too many beside a moment that was left out says that it was not
            cost += ALONE * min(len(part.asked) - len(which), len(pairs.extra))
            middles.append(float(np.median(late)) if len(late) else np.nan)
        known = [middle for middle in middles if not np.isnan(middle)]
        if known:
            cost += float(np.log1p((np.mean(known) / (PRIOR_LATE * self.period)) ** 2))
            cost += float(np.log1p((np.ptp(known) / (PRIOR_APART * self.period)) ** 2))
        if ratio in (0.5, 2.0):
            cost += TWICE
        elif ratio != 1:
            cost += FREE + 0.5 * float(np.log(max(sum(map(len, answers)), 1)))
        cost += SWAPPED * swapped + SLIPPED * (slip is not None)
        return Hypothesis(ratio, swapped, tuple(answers), tuple(extra), cost, slip)

    def _repeated(self, asked: Floats, ratio: float) -> tuple[Floats, int]:
        """Return the plan's times at a faster tempo, gone through again up to its end."""
        if ratio > 0.9 or not len(asked) or self.end <= self.start:
            return asked, 0
        whole = ratio * (self.end - self.start)
        rounds = int(np.ceil((self.end - self.start) / whole))
        times = np.concatenate([asked + k * whole for k in range(rounds)])
        times = times[(times <= self.end + 1e-9) | (np.arange(len(times)) < len(asked))]
        return times, len(times) - len(asked)

    def _cost_of(self, times: Floats, done: Floats, pairs: Pairs, late: Floats, again: int) -> float:
        """Return the nats of one hand."""
        # what would have come after the end, as late as she is, is not missed
        asked = np.flatnonzero(times + max(float(late[-1]) if len(late) else 0.0, 0.0) <= self.end + 1e-9)
        if not len(pairs):
            return ENDS + min(ALONE * len(done), ENDS) + ALONE * max(len(done) - 2, 0)
        scaled = late / self.step
        before = int((pairs.missed < pairs.expected[0]).sum())
        behind = int(((pairs.missed > pairs.expected[-1]) & (pairs.missed < len(asked) - again)).sum())
        inside = int(((pairs.missed > pairs.expected[0]) & (pairs.missed < pairs.expected[-1])).sum())
        outside = (done < times[0] - self.step) | (done > self.end)
        at_ends = int(outside[pairs.extra].sum())
        cost = min(ALONE * before, ENDS) + min(ALONE * behind, ENDS) + min(ALONE * at_ends, ENDS)
        cost += ALONE * (inside + len(pairs.extra) - at_ends)
        return cost + _cost_of_scatter(scaled)

    def cost_of_one_moment(self, hypothesis: Hypothesis, slip: Slip | None) -> float:
        """Return the nats of a hypothesis with one displaced moment instead of a slip there.

        Such a moment changes lateness twice, and a slip would take one of the two changes away.
        """
        saved = 0.0
        for part, answer in zip(self.parts, hypothesis.answers, strict=True):
            known = np.flatnonzero(answer >= 0)
            if slip is None or len(known) < 3:
                continue
            scaled = (part.onsets[answer[known]] - part.asked[known]) / self.step
            at = int(np.searchsorted(part.asked[known], slip.at - 1e-6))
            whole = _cost_of_scatter(scaled)
            for k in range(max(at - 1, 0), min(at + 1, len(known))):
                saved = max(saved, whole - _cost_of_scatter(np.delete(scaled, k)))
        return hypothesis.cost - saved + DISPLACED

    def slope(self, hypothesis: Hypothesis) -> float:
        """Relative tempo beside the hypothesis: the median slope of lateness on time."""
        slopes, weights = [], []
        for part, answer, other in zip(self.parts, hypothesis.answers, self._onsets(hypothesis), strict=True):
            known = np.flatnonzero(answer >= 0)
            if len(known) < 4:
                continue
            known = known[np.linspace(0, len(known) - 1, min(len(known), SLOPE_PAIRS)).astype(int)]
            asked = self.start + hypothesis.ratio * (part.asked[known] - self.start)
            slopes.append(robust_slope(asked, other[answer[known]] - asked)[0])
            weights.append(len(known))
        return float(np.average(slopes, weights=weights)) if slopes else 0.0

    def apart(self, hypothesis: Hypothesis) -> float:
        """Difference between the hands' lateness, in cycles."""
        middles = [
            np.median(
                other[answer[answer >= 0]] - self.start - hypothesis.ratio * (part.asked[answer >= 0] - self.start)
            )
            for part, answer, other in zip(self.parts, hypothesis.answers, self._onsets(hypothesis), strict=True)
            if (answer >= 0).any()
        ]
        return float(np.ptp(middles)) / self.period if len(middles) > 1 else 0.0

    def ratio_by_cycles(self) -> float:
        """Median time of as many onsets as a cycle has moments, over the asked one."""
        ratios = []
        for part in self.parts:
            a_cycle = int(np.bincount(part.cycle - part.cycle.min()).max()) if len(part.cycle) else 1
            if min(len(part.asked), len(part.onsets)) > a_cycle:
                done, wanted = (float(np.median(t[a_cycle:] - t[:-a_cycle])) for t in (part.onsets, part.asked))
                ratios += [done / wanted] if wanted > 0 else []
        return float(np.median(ratios)) if ratios else 1.0

    def _onsets(self, hypothesis: Hypothesis) -> list[Floats]:
        onsets = [part.onsets for part in self.parts]
        return onsets[::-1] if hypothesis.swapped else onsets


def _cost_of_scatter(scaled: Floats) -> float:
    """Return the nats of a hand's lateness in steps: of its innovations, or of all of it, with heavy tails."""
    centred = scaled - np.median(scaled)
    best = np.inf
    for keeps in {1.0, _keeps(centred)}:
        change = centred[1:] - keeps * centred[:-1]
        scale = max(1.4826 * float(np.median(np.abs(change))) if len(change) else 0.0, LEAST_SCALE)
        # Student's t with 3 degrees of freedom: its density at 0 is 2 / (π√3)
        nats = (
            len(centred) * (np.log(scale) + np.log(np.pi * 3**0.5 / 2)) + 2 * np.log1p(change**2 / (3 * scale**2)).sum()
        )
        best = min(best, float(nats))
    return best


def _keeps(centred: Floats) -> float:
    """Return the share of lateness kept to the next moment, 0 to 1."""
    square = float((centred[:-1] ** 2).sum())
    return min(max(float((centred[1:] * centred[:-1]).sum()) / square, 0.0), 1.0) if square > 0 else 0.0

"""``Finding``: one thing that happened in a take, as a value; sentences are made of it elsewhere."""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

Happened = Literal[
    "even",
    "long",
    "short",
    "late",
    "early",
    "missed",
    "extra",
    "hesitated",
    "slipped",
    "all_late",
    "all_early",
    "late_entry",
    "stopped",
    "other_tempo",
    "drifting",
    "hands_swapped",
    "half_cycle_off",
    "lag_off",
    "no_rhythm",
    "too_little",
]


#: Confidence under which a finding is doubtful: something else is twice as likely. No cycle is flagged for it, and it
#: is said with "perhaps" or not at all. Chosen on tuning takes: of 1,000 good cycles 1.9 are told then at a spread of
#: 3 %, and 13 where scatter has heavy tails; at one half it would be 1.4 and 11, and 3 of 100 late moments fewer.
DOUBTFUL = 0.35


class Finding(NamedTuple):
    """One thing that happened.

    Parameters
    ----------
    kind : str
    cycle : int or None
        Number in the plan, from 0; None where it is of the whole take.
    hand : str
        Empty where it is of all hands.
    moment : str
        Label; empty where it is of a cycle or of the whole take.
    by_ms : float
        Observed minus asked; NaN where it has no size in time.
    by_counts : float
        The same in counts of the plan.
    ratio : float
        Of a long or short cycle: its period over the one asked. Of another tempo: her tempo over the one asked (2 is
        twice as fast). Of a drift: the last period over the first. NaN elsewhere.
    confidence : float
        How likely this is what happened, 0 to 1, as measured with simulated performers.
    same_as : tuple of str
        Kinds that would give the same onsets in this plan, or explain this take nearly as well.
    """

    kind: Happened
    cycle: int | None = None
    hand: str = ""
    moment: str = ""
    by_ms: float = math.nan
    by_counts: float = math.nan
    ratio: float = math.nan
    confidence: float = math.nan
    same_as: tuple[str, ...] = ()

    @property
    def is_doubtful(self) -> bool:
        """Whether it is too uncertain to be told as what happened."""
        return self.confidence < DOUBTFUL


#: How sure it is that a take of 16 cycles was even, as log odds; how much they grow with the logarithm of the cycles
#: over 16 (what is hidden in few shows in many); and what something doubtful takes from them.
EVEN, EVEN_BY_LENGTH, EVEN_IN_DOUBT = 1.95, 1.2, -1.5


def sure_of_even(cycles: int, *, in_doubt: bool) -> float:
    """Return the probability that a take without findings was even; ``in_doubt``: something may have happened."""
    odds = EVEN + EVEN_BY_LENGTH * math.log(max(cycles, 1) / 16) + EVEN_IN_DOUBT * in_doubt
    return 1 / (1 + math.exp(-odds))


#: How sure it is that all of a take was late, or early, as log odds: per SD by which its level differs from none beyond
#: so many, and at most. Of 2,300 tuning takes by normal performers, none of whom was meant to be late or early by more
#: than 50 ms, 72 lay beyond two SDs, most of them by who wanders, 33 beyond 2.5, 13 beyond three; of 137 who were late
#: or early by 120 ms and more 135, 131, 128. Beyond two SDs it is told: of two things that may have happened the surer
#: one comes first.
LEVEL_BY_SD, LEVEL_EVEN, LEVEL_MOST = 1.6, 2.37, 0.97


def sure_of_level(sds: float) -> float:
    """Return the probability that all of a take was late, or early, given its level in SDs."""
    return min(1 / (1 + math.exp(-LEVEL_BY_SD * (sds - LEVEL_EVEN))), LEVEL_MOST)


#: How often a finding that comes first is right, where it does not depend on its size: 2,825 tuning takes of all
#: drills, four kinds of performer, 24 ways of going wrong, each as often, at a spread of 2 to 5 %. A hand off its place
#: was right in 50 of 50 of 1,442 more.
SURE_OF = {
    "no_rhythm": 0.98,
    "too_little": 0.98,
    "other_tempo": 0.98,
    "hands_swapped": 0.97,
    "late_entry": 0.98,
    "stopped": 0.98,
    "drifting": 0.97,
    "half_cycle_off": 0.98,
    "lag_off": 0.98,
    "missed": 0.98,
    "extra": 0.98,
    "slipped": 0.95,
}

"""Verdicts on worn sensors while the take runs: each finished cycle early, late or steady beside those before."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.live.practice.last_word import find_last_word
from tempo_coach.live.practice.session import Onset
from tempo_coach.live.practice.worn_cycles import WornCycles

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.live.audio.playback import Player
    from tempo_coach.live.practice.last_word import LastWord
    from tempo_coach.live.practice.worn_cycles import FinishedCycle
    from tempo_coach.pattern.plan.plan import Plan


class WornWords:
    """Verdicts of one take.

    Parameters
    ----------
    plan : Plan
    """

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._cycles = WornCycles(plan)
        self._onsets: list[Onset] = []

    def follow(self, readings: Mapping[str, Sequence[Sequence[float]]], player: Player) -> list[FinishedCycle]:
        """Process readings by hand, and return the cycles that are over."""
        for hand, rows in readings.items():
            table = np.array(rows, dtype=np.float64)
            # one line holds for so short a while
            ends = [player.take_time(stamp) for stamp in (table[:, 0].min(), table[:, 0].max() + 1e-6)]
            if all(map(math.isfinite, ends)):
                table[:, 0] = ends[0] + table[:, 0] - table[:, 0].min()
                self._cycles.add(hand, table)
        return self._cycles.finished(player.position())

    def hear(self, readings: Mapping[str, Sequence[Sequence[float]]], player: Player) -> list[LastWord | None]:
        """Process readings by hand, and return the verdict on each cycle that is over.

        Parameters
        ----------
        readings : mapping of hand to sequence of (stamp, six values)
        player : Player
            What plays: it knows when a stamp was on the take clock.
        """
        words = []
        for cycle in self.follow(readings, player):
            self._onsets.append(Onset(cycle.hand, cycle.time, cycle.time))
            words.append(find_last_word(self._plan, self._onsets))
        return words

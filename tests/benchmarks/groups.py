"""Simulated groups: who follows whom is known, and who leaves the group where.

The model is the linear correction of phase between players (Vorberg & Schulze 2002 for one, Wing, Endo, Bradbury &
Vorberg 2014 for several; formulas from memory): at each cycle everybody's inner clock takes off a share of the own
lateness and takes over a share of a leader's lead, as they were observed. Clocks and movements scatter; all times are
seconds. Counts are half a second apart, so clocks of 9.5 and movements of 7.5 ms are the 1.9 and 1.5 % that a natural
spread of 3 % of the periods has. Whatever was tuned here was tuned on ``USUAL``; the others are the judges.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

MEMBERS = ("Ada", "Bea", "Cyl", "Dor", "Eva")  # invented
WARMED = 100


@dataclass(frozen=True)
class Kind:
    """How people time.

    Parameters
    ----------
    clock, motor : float
        SDs of the inner clock from cycle to cycle, and of each single movement.
    heavy : bool
        Noise of Student's t with 3 degrees of freedom instead of normal noise, at the same SD.
    sway : float
        First autocorrelation of the clock's noise.
    differ : bool
        Whether each member's scatter is another one, drawn from 2/3 to 3/2 of it.
    """

    clock: float = 0.0095
    motor: float = 0.0075
    heavy: bool = False
    sway: float = 0.0
    differ: bool = False


USUAL = Kind()
JUDGES = {
    "heavy tails": Kind(heavy=True),
    "all clock": Kind(clock=0.0121, motor=0.0),
    "more motor": Kind(clock=0.0066, motor=0.0101),
    "swaying": Kind(sway=0.3),
    "unlike": Kind(differ=True),
}


def perform(
    generator: np.random.Generator,
    groups: int,
    cycles: int,
    *,
    kind: Kind = USUAL,
    correction: float = 0.25,
    follows: NDArray[np.float64] | None = None,
    members: int = 5,
) -> NDArray[np.float64]:
    """Return the asynchronies of groups.

    Parameters
    ----------
    generator : numpy.random.Generator
    groups, cycles : int
    kind : Kind
    correction : float
        Share of the own lateness to the music that is taken off by the next cycle; at 0 they drift.
    follows : array, shape (members, members) or None
        Share of the lead of the second that the first takes over by the next cycle.
    members : int

    Returns
    -------
    numpy.ndarray, shape (groups, members, cycles)
    """
    gains = np.zeros((members, members)) if follows is None else follows
    own = gains.sum(axis=1)
    warmed = WARMED if correction > 0 else 0
    shape = (cycles + warmed, groups, members)
    each = generator.uniform(2 / 3, 3 / 2, (groups, members)) if kind.differ else 1.0
    clock, motor = (_noise(generator, shape, heavy=kind.heavy) * sd * each for sd in (kind.clock, kind.motor))
    for k in range(1, len(clock) if kind.sway else 0):
        clock[k] = kind.sway * clock[k - 1] + np.sqrt(1 - kind.sway**2) * clock[k]
    inner, out = np.zeros((groups, members)), np.empty(shape)
    for k, (step, movement) in enumerate(zip(clock, motor, strict=True)):
        if k:
            inner = inner - (correction + own) * out[k - 1] + out[k - 1] @ gains.T + step
        out[k] = inner + movement
    return out[warmed:].transpose(1, 2, 0)


def lead(gain: float, members: int = 5) -> NDArray[np.float64]:
    """Return who follows whom where all follow the first."""
    gains = np.zeros((members, members))
    gains[1:, 0] = gain
    return gains


def chain(gain: float, members: int = 5) -> NDArray[np.float64]:
    """Return who follows whom where each follows the one before."""
    return np.diag(np.full(members - 1, gain), k=-1)


@dataclass(frozen=True)
class Away:
    """Who left: member, first and last moment, and by how many seconds."""

    member: int
    first: int
    last: int
    by: float


def leave(
    generator: np.random.Generator,
    group: NDArray[np.float64],
    *,
    by: tuple[float, float] = (0.06, 0.25),
    another: float = 0.0,
) -> Away:
    """Let one member be late or early in a stretch of 4 to 16 counts, in place; another one is steadily late."""
    members, n = group.shape
    length = int(generator.integers(4, min(16, n // 3) + 1))
    first = int(generator.integers(2, n - length - 1))
    member = int(generator.integers(members))
    off = float(generator.uniform(*by) * generator.choice([-1, 1]))
    group[(member + 1 + int(generator.integers(members - 1))) % members] += another
    group[member, first : first + length] += off
    return Away(member, first, first + length - 1, off)


def _noise(generator: np.random.Generator, shape: tuple[int, ...], *, heavy: bool) -> NDArray[np.float64]:
    if heavy:
        return generator.standard_t(3, shape) / np.sqrt(3)
    return generator.standard_normal(shape)

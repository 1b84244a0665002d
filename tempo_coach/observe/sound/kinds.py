"""A kind of sound as it is known before it is looked for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from tempo_coach.observe.observers import SOUNDS, USUAL_SOUND

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from tempo_coach.observe.observers import Hearing, ObservedBy


@dataclass(frozen=True, eq=False)
class Ear:
    """What is known of a sound before it is looked for.

    Parameters
    ----------
    kind : str
        One of ``SOUNDS``.
    threshold : float or None
        Least rise of an onset; None where nobody gave a sample, and the recording itself has to say.
    weights : numpy.ndarray or None, shape (bands,)
        How much each band tells, from the sample; by default all the same.
    closest : float
        Seconds within which a second onset is none.
    """

    kind: ObservedBy = USUAL_SOUND
    threshold: float | None = None
    weights: NDArray[np.float64] | None = None
    closest: float = 0.10

    @property
    def hearing(self) -> Hearing:
        """How its kind is heard."""
        return SOUNDS[self.kind]


def make_ear(kind: ObservedBy, *, closest: float | None = None) -> Ear:
    """Return an ear for a kind of sound that nobody gave a sample of.

    Parameters
    ----------
    kind : str
        One of ``SOUNDS``.
    closest : float or None
        Seconds within which a second onset is none; by default the kind's own.
    """
    return Ear(kind, closest=SOUNDS[kind].closest if closest is None else closest)

"""Settings of the onset detector for each kind of sound."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from tempo_coach.observe.observers import DEFAULT_SOUND, SOUNDS

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from tempo_coach.observe.observers import ObservedBy, SoundProfile


@dataclass(frozen=True, eq=False)
class Detector:
    """The settings of an onset detector.

    Parameters
    ----------
    kind : str
        One of ``SOUNDS``.
    threshold : float or None
        Least rise of an onset; None without a sample, where the recording itself gives it.
    weights : numpy.ndarray or None, shape (bands,)
        Weights of the bands from a sample; equal by default.
    closest : float
        Least seconds between two onsets.
    nearest : bool
        Whether others do the same a few metres away, so that the loudest onset of a cluster is meant.
    """

    kind: ObservedBy = DEFAULT_SOUND
    threshold: float | None = None
    weights: NDArray[np.float64] | None = None
    closest: float = 0.10
    nearest: bool = False

    @property
    def profile(self) -> SoundProfile:
        """The profile of its kind."""
        return SOUNDS[self.kind]


def make_detector(kind: ObservedBy, *, closest: float | None = None, nearest: bool = False) -> Detector:
    """Return the default detector of a kind of sound.

    Parameters
    ----------
    kind : str
        One of ``SOUNDS``.
    closest : float or None
        Least seconds between two onsets; by default the kind's own.
    nearest : bool
        As in :class:`Detector`.
    """
    return Detector(kind, closest=SOUNDS[kind].closest if closest is None else closest, nearest=nearest)

"""Settings of the onset detector for each kind of sound."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tempo_coach.observe.observers import DEFAULT_SOUND, SOUNDS

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from tempo_coach.observe.observers import ObservedBy, SoundProfile

#: Where others do the same a few metres away, each at a recorder of her own: seconds from what she does to her
#: recorder, which lies within reach, 0.65 m (common practice), at 344 m/s.
REACH = 0.0019
#: Seconds by which half the height of the loudest comes after the first rise, and the SD that others near add; as
#: measured on groups of the benchmark ``hall_group``, others than those that judge.
LOUD_DELAY, CROSSTALK_SPREAD = 0.0008, 0.0018


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
    def delay(self) -> float:
        """Seconds by which detected onsets are late."""
        own = self.profile.delay_ms / 1000
        if not self.nearest:
            return own
        return own + REACH + (LOUD_DELAY if self.profile.onset == "rise" else 0.0)

    @property
    def spread(self) -> float:
        """SD of detected onsets in seconds, other people nearby included."""
        return math.hypot(self.profile.spread_ms / 1000, CROSSTALK_SPREAD if self.nearest else 0.0)

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

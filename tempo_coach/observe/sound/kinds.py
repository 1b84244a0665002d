"""Kinds of sound that a gymnast makes, how each is heard, and what is known of one before it is looked for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple, get_args

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Kind = Literal["contact", "clap", "foot", "voice"]
KINDS: tuple[str, ...] = get_args(Kind)


class Manner(NamedTuple):
    """How a kind of sound is heard.

    Parameters
    ----------
    band_hz : (float, float)
        Where it is looked for.
    closest : float
        Seconds within which a second one is an echo, a bounce or the same syllable.
    rise_over : float
        Seconds that a rise is looked for over.
    least_rise : float
        Without a sample of the sound, rises of less than this are no onset: nepers of power, mean over the bands.
    delay_ms, spread_ms : float
        By how much its onset is found late, and the SD of that, as measured: what this way of observing adds.
    """

    band_hz: tuple[float, float]
    closest: float
    rise_over: float
    least_rise: float
    delay_ms: float
    spread_ms: float


#: Delay and spread are those of the benchmark ``contacts``: synthesised sounds in a tune 10 dB below them, in a room.
MANNERS: dict[str, Manner] = {
    "contact": Manner((600.0, 7500.0), 0.10, 0.012, 1.8, 0.1, 0.1),
    "clap": Manner((800.0, 7500.0), 0.10, 0.012, 1.8, 0.1, 0.1),
    "foot": Manner((100.0, 4000.0), 0.14, 0.012, 1.8, 0.1, 0.3),
    "voice": Manner((200.0, 3000.0), 0.16, 0.020, 1.2, 0.6, 2.3),
}


@dataclass(frozen=True, eq=False)
class Ear:
    """What is known of a sound before it is looked for.

    Parameters
    ----------
    kind : {"contact", "clap", "foot", "voice"}
    threshold : float or None
        Least rise of an onset; None where nobody gave a sample, and the recording itself has to say.
    weights : numpy.ndarray or None, shape (bands,)
        How much each band tells, from the sample; by default all the same.
    closest : float
        Seconds within which a second onset is none.
    """

    kind: Kind = "contact"
    threshold: float | None = None
    weights: NDArray[np.float64] | None = None
    closest: float = 0.10

    @property
    def manner(self) -> Manner:
        """How its kind is heard."""
        return MANNERS[self.kind]


def make_ear(kind: Kind, *, closest: float | None = None) -> Ear:
    """Return an ear for a kind of sound that nobody gave a sample of.

    Parameters
    ----------
    kind : {"contact", "clap", "foot", "voice"}
    closest : float or None
        Seconds within which a second onset is none; by default the kind's own.
    """
    return Ear(kind, closest=MANNERS[kind].closest if closest is None else closest)

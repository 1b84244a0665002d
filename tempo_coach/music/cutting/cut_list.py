"""``CutList``: which stretches of a piece of music follow each other, and what is done to them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import accumulate
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

#: Seconds that the tone before the music lasts: long enough to be noticed in a hall, over before she breathes in.
TONE_S = 0.25


@dataclass(frozen=True)
class CutPiece:
    """A stretch of the music that is kept.

    Parameters
    ----------
    start, end : float
        Seconds of the music.
    soft : bool
        Whether nothing is struck where it begins, so that it comes in slowly.

    Raises
    ------
    ValueError
        If it does not end after it starts.
    """

    start: float
    end: float
    soft: bool = False

    def __post_init__(self) -> None:
        if not 0 <= self.start < self.end < math.inf:
            raise ValueError(f"piece: expected an end after the start, got {self.start} to {self.end}")


@dataclass(frozen=True)
class CutList:
    """Pieces in the order in which they are played, and what comes before, between and after them.

    Parameters
    ----------
    pieces : tuple of CutPiece
        One or more.
    silence : float
        Seconds of silence before the music.
    tone : bool
        Whether a tone comes before that silence.
    fade : float
        Seconds over which the end fades out; 0 where it ends as it is.
    gain_db : float
        By how much the music is made louder.

    Raises
    ------
    ValueError
        If there is no piece, or a number is none that can be.

    Examples
    --------
    >>> cut = CutList((CutPiece(10.0, 20.0), CutPiece(40.0, 45.0)), silence=1.0)
    >>> cut.duration, list(cut.places(12.0)), list(cut.places(30.0)), cut.source_at(12.5)
    (16.0, [3.0], [], 41.5)
    """

    pieces: tuple[CutPiece, ...]
    silence: float = 0.0
    tone: bool = False
    fade: float = 0.0
    gain_db: float = 0.0

    def __post_init__(self) -> None:
        if not self.pieces:
            raise ValueError("cut list: expected at least one piece")
        if not (0 <= self.silence < math.inf and 0 <= self.fade < math.inf and math.isfinite(self.gain_db)):
            raise ValueError("cut list: expected finite numbers from 0")

    @property
    def begin(self) -> float:
        """Seconds at which the music begins, after tone and silence."""
        return self.silence + (TONE_S if self.tone else 0.0)

    @property
    def starts(self) -> tuple[float, ...]:
        """Seconds at which each piece begins, and at which the last one ends."""
        return tuple(accumulate((each.end - each.start for each in self.pieces), initial=self.begin))

    @property
    def duration(self) -> float:
        """Seconds in all."""
        return self.starts[-1]

    def places(self, seconds: float, *, slack: float = 0.0) -> Iterator[float]:
        """Yield the seconds at which an instant of the music is heard; none where it is cut out.

        Parameters
        ----------
        seconds : float
            Of the music that is cut.
        slack : float
            So much before a piece begins and before it ends an instant belongs to the next: a beat is a little before
            or after its attack.
        """
        for piece, start in zip(self.pieces, self.starts, strict=False):
            if piece.start - slack <= seconds < piece.end - slack:
                yield start + seconds - piece.start

    def source_at(self, seconds: float) -> float | None:
        """Return the second of the music that is heard at a second of the cut; None before and after it."""
        for piece, start in zip(self.pieces, self.starts, strict=False):
            if start <= seconds < start + piece.end - piece.start:
                return piece.start + seconds - start
        return None

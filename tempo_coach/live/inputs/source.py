"""Interface of live inputs: a source gives stamped onsets or readings while she moves, and reports what it lacks.

Phones, senders of OSC, LSL and MIDI, and lines of text are sources. All stamps are ``time.perf_counter``, which every
process of this machine shares.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple, Protocol, TypeAlias

from tempo_coach.live.notices import Notice

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.observe.observers import ObservedBy
    from tempo_coach.pattern.plan.plan import Plan


class SourceOnset(NamedTuple):
    """An onset that came: the hand, its stamp as far as is known while the take runs, and whose it is, of a group."""

    hand: str
    stamp: float
    whose: str = ""


class Remote(StrEnum):
    """What whoever holds the remote wants."""

    START = "start"
    END = "end"


#: What a source says.
SourceNews: TypeAlias = SourceOnset | Remote | Notice


@dataclass(frozen=True)
class Collected:
    """All that a source has of a take, as its clocks put it by now.

    Parameters
    ----------
    onsets : sequence of (stamp, hand)
    readings : mapping of str to sequence of (stamp, *values)
        By the hand that each sensor is worn at: accelerations in m/s², rates in rad/s.
    half_width : float
        Bound of the error of the stamps in seconds.
    noise_floor_ms : float or None
        SD that this way of observing adds.
    gaps : sequence of (start, end)
        Stamps between which something was not observed.
    complete : bool
        Whether nothing is still to come.
    calibrated : bool
        Whether its delay was measured and taken out.
    """

    onsets: Sequence[tuple[float, str]] = ()
    readings: Mapping[str, Sequence[Sequence[float]]] = field(default_factory=dict)
    half_width: float = 0.0
    noise_floor_ms: float | None = None
    gaps: Sequence[tuple[float, float]] = ()
    complete: bool = True
    calibrated: bool = False


class LiveSource(Protocol):
    """Something that observes while she moves. Nothing waits: :meth:`poll` is called ten times a second or more."""

    @property
    def observed_by(self) -> ObservedBy:
        """How a take that begins now is observed."""

    @property
    def note(self) -> str:
        """What is to be seen of it beside everything else, in a few signs."""

    def poll(self) -> Sequence[SourceNews]:
        """Return what is new."""

    def readings(self) -> Mapping[str, Sequence[Sequence[float]]]:
        """Return the readings that came since the last time, by hand, as :class:`Collected` has them."""

    def show(self, values: Mapping[str, object]) -> None:
        """Show what the screen shows, where it can."""

    def begin(self, plan: Plan, zero: float, beats: Sequence[Sequence[object]] = ()) -> None:
        """Open a take of a plan, take time 0 being heard at a stamp.

        Parameters
        ----------
        plan : Plan
        zero : float
        beats : sequence of (take time, count, eight, move)
            For whatever shows the count.
        """

    def end(self, stamp: float) -> None:
        """Close the take: what was done until that stamp belongs to it."""

    def collected(self) -> Collected | None:
        """Return all that is known of the take; None while nothing can be told yet."""

    def close(self) -> None:
        """Let go of everything."""

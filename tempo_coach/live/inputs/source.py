"""Interface of live inputs: a source delivers stamped onsets or readings, and reports its troubles.

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
    """A live onset: its hand, its stamp as known during the take, and in a group its member."""

    hand: str
    stamp: float
    whose: str = ""


class Remote(StrEnum):
    """Commands of a remote."""

    START = "start"
    END = "end"


#: What a source says.
SourceNews: TypeAlias = SourceOnset | Remote | Notice


@dataclass(frozen=True)
class Collected:
    """All data of a take from one source, on the clocks as known by now.

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
    """Something that observes while she moves. It never blocks: :meth:`poll` is called at least ten times a second."""

    @property
    def observed_by(self) -> ObservedBy:
        """Way of observing of a take that begins now."""

    @property
    def note(self) -> str:
        """Status of the source in a few characters."""

    def poll(self) -> Sequence[SourceNews]:
        """Return what is new."""

    def readings(self) -> Mapping[str, Sequence[Sequence[float]]]:
        """Return the readings since the last call, by hand, as in :class:`Collected`."""

    def show(self, values: Mapping[str, object]) -> None:
        """Show what the screen shows, if it has a display."""

    def begin(self, plan: Plan, zero: float, beats: Sequence[Sequence[object]] = ()) -> None:
        """Open a take of a plan, given the stamp at which take time 0 is heard.

        Parameters
        ----------
        plan : Plan
        zero : float
        beats : sequence of (take time, count, eight, move)
            For whatever shows the count.
        """

    def end(self, stamp: float) -> None:
        """Close the take at a stamp: anything done before belongs to it."""

    def collected(self) -> Collected | None:
        """Return all data of the take; None while it is incomplete."""

    def close(self) -> None:
        """Release everything."""

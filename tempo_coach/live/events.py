"""What can happen to a practice: the events of :mod:`tempo_coach.live.course`.

A **stamp** is a reading of ``time.perf_counter`` in seconds; a **time** is seconds on the take clock, NaN where it is
not known.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

if TYPE_CHECKING:
    from tempo_coach.pattern.plan import Plan


class Tick(NamedTuple):
    """The clock went on."""

    stamp: float
    time: float = math.nan


class Pressed(NamedTuple):
    """A key went down."""

    key: str
    stamp: float
    time: float = math.nan


class Entered(NamedTuple):
    """Enter went down."""

    stamp: float
    time: float = math.nan


class Prepared(NamedTuple):
    """The samples of the next take are there."""

    plan: Plan


class Began(NamedTuple):
    """The first sample is about to be heard."""


class Broke(NamedTuple):
    """The sound failed."""

    sentence: str


class Back(NamedTuple):
    """The sound can go on."""

    sentence: str


class Noted(NamedTuple):
    """Something happened that has to be said and changes nothing, such as a gap in the sound."""

    sentence: str


class Finished(NamedTuple):
    """The last sample was heard."""


class Judged(NamedTuple):
    """The take was judged."""

    steady: bool


class Leave(NamedTuple):
    """She wants to leave."""


Event: TypeAlias = Tick | Pressed | Entered | Prepared | Began | Broke | Back | Noted | Finished | Judged | Leave

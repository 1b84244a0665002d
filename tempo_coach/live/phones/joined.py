"""A phone as the terminal knows it, and whose place it takes; pure."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable


@dataclass(frozen=True)
class JoinedPhone:
    """A phone as the terminal knows it.

    Parameters
    ----------
    number : int
    sign : str
        The two digits that it shows.
    name : str
    roles : tuple of str
        Of "count", "tap", "worn", "remote"; none while nobody has confirmed it.
    fields : tuple of str
        The hands of its fields, or the one that it is worn at.
    half_width : float
        Bound of its clock in seconds; infinite while nothing is known.
    silent : bool
        Whether nothing comes from it now.
    before : int
        Its number when it took part already, its page having been closed meanwhile; 0 where it did not.
    stands_in : bool
        Whether it took another phone's place, whose measured delay is not its own.
    """

    number: int
    sign: str
    name: str = ""
    roles: tuple[str, ...] = ()
    fields: tuple[str, ...] = ()
    half_width: float = math.inf
    silent: bool = False
    before: int = 0
    stands_in: bool = False

    @property
    def ways(self) -> frozenset[str]:
        """Ways of observing: tap, worn, or none."""
        return frozenset({"tap", "worn"} & set(self.roles))

    @property
    def observes(self) -> bool:
        """Whether it delivers onsets or readings."""
        return bool(self.ways)

    def excludes(self, other: JoinedPhone) -> bool:
        """Return whether a take cannot have both: one hand twice, or a tapped phone and a worn one."""
        both = self.observes and other.observes
        return both and (bool(set(self.fields) & set(other.fields)) or self.ways != other.ways)


def rivals_of(joined: JoinedPhone, phones: Iterable[JoinedPhone], *, members: bool) -> list[JoinedPhone]:
    """Return the phones that one replaces: its predecessor, and those that no take can have beside it.

    Parameters
    ----------
    joined : JoinedPhone
    phones : iterable of JoinedPhone
    members : bool
        Whether each name is a take of its own; else all are one take.

    Examples
    --------
    >>> one = JoinedPhone(1, "48", "Ada", ("tap",), ("right",))
    >>> other = JoinedPhone(2, "85", "Bea", ("tap",), ("right", "left"))
    >>> len(rivals_of(other, [one], members=False)), len(rivals_of(other, [one], members=True))
    (1, 0)
    """
    return [
        each
        for each in phones
        if each.number != joined.number
        and (each.number == joined.before or (each.excludes(joined) and (each.name == joined.name or not members)))
    ]

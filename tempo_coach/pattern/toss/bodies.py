"""Thrown apparatus: mass, size and drag.

The drag of a ball is known; that of a club or a hoop is an estimate, with a range. A rope and a ribbon bend and pull
themselves along: no ballistic plan holds for them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from tempo_coach.errors import CoachError, nearest

AIR_KG_PER_M3 = 1.2041
"""Dry air at 20 °C and 1013.25 hPa (ideal gas)."""

NOT_BALLISTIC = ("rope", "ribbon")
"""Apparatus without ballistic flight: held, or braked by the air."""


@dataclass(frozen=True)
class Body:
    """A thrown body and its drag.

    Parameters
    ----------
    name : str
    drag_per_m : float
        k of ``a = -k |v| v``, 1/m: air density times drag coefficient times area over twice the mass.
    spread : float
        How far k may be off, as a fraction.
    source : str
        Where k and its spread come from.
    """

    name: str
    drag_per_m: float
    spread: float
    source: str


def _drag_per_m(*, coefficient: float, area_m2: float, mass_kg: float) -> float:
    return AIR_KG_PER_M3 * coefficient * area_m2 / (2 * mass_kg)


# Sizes and masses are the norms' (2016); the sphere's coefficient is the common 0.47, the thin cylinder's 1.1 (both
# from memory). A cylinder that turns end over end shows 2/pi of its side on average; on a ring that flies edge first
# only the flow across the tube counts, |sin|³ on average, which is 4/(3 pi).
_BALL = _drag_per_m(coefficient=0.47, area_m2=math.pi * 0.095**2, mass_kg=0.4)
_CLUB = _drag_per_m(coefficient=1.1, area_m2=0.45 * 0.02 * 2 / math.pi, mass_kg=0.15)
_RING = _drag_per_m(coefficient=1.1, area_m2=math.pi * 0.87 * 0.019, mass_kg=0.3)

BODIES: dict[str, Body] = {
    body.name: body
    for body in (
        Body("ball", _BALL, 0.11, "sphere of 0.19 m and 0.4 kg; the norms allow 0.18 to 0.20 m"),
        Body("club", _CLUB, 0.3, "estimated as a stick of 0.45 m by 0.02 m that turns end over end, 30 % uncertain"),
        Body("hoop on edge", _RING * 4 / (3 * math.pi), 0.3, "estimated as a ring of 0.87 m, 30 % uncertain"),
        Body("hoop face on", _RING, 0.3, "estimated as a ring of 0.87 m, 30 % uncertain"),
    )
}
"""What a ballistic plan holds for."""

_OTHER_WORDS = {
    "clubs": "club",
    "hoop": "hoop on edge",
    "hoop-on-edge": "hoop on edge",
    "hoop-face-on": "hoop face on",
}


def find_body(apparatus: str) -> Body:
    """Return the body of that name; an unspecified hoop flies edge on.

    Raises
    ------
    CoachError
        For a rope or a ribbon, which do not fly ballistically, and for an unknown name.

    Examples
    --------
    >>> find_body("clubs").name
    'club'
    """
    word = apparatus.strip().lower()
    if word in NOT_BALLISTIC:
        raise CoachError("body.not_ballistic", where="apparatus", apparatus=word)
    name = _OTHER_WORDS.get(word, word)
    if name not in BODIES:
        known = [*BODIES, *_OTHER_WORDS, *NOT_BALLISTIC]
        raise CoachError(
            "body.unknown", where="apparatus", known=[*BODIES], apparatus=apparatus, nearest=nearest(word, known)
        )
    return BODIES[name]

"""Solver for a toss: from any sufficient set of quantities to a flight of an exact number of counts.

What follows from what is in :mod:`tempo_coach.pattern.toss.relations`; here stands what is assumed where nobody said
it, and what is refused: a toss that nobody can throw, and values that contradict each other.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.pattern.toss.relations import HIGHEST_APEX_M, check_values, complete
from tempo_coach.pattern.toss.toss import Toss, longest_flight, shortest_flight

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

RELEASE_M = 1.8
"""Height of a release above the head where none is given; common practice, and said to be assumed."""

CATCH_M = 1.2
"""Height of a catch between hip and shoulder where none is given; common practice, and said to be assumed."""


def solve_toss(
    *,
    counts: float | None = None,
    tempo_bpm: float | None = None,
    flight: float | None = None,
    release_m: float | None = None,
    catch_m: float | None = None,
    distance_m: float | None = None,
    rise_m: float | None = None,
    apex_m: float | None = None,
    speed_mps: float | None = None,
    angle_deg: float | None = None,
    otherwise: Mapping[str, float] | None = None,
) -> Toss:
    """Return the toss that follows from the known quantities.

    Any sufficient set will do: counts and tempo; height and tempo (the counts follow); height and counts (the tempo
    follows); speed and angle; angle and distance ... Release height, catch height and distance are assumed
    (:data:`RELEASE_M`, :data:`CATCH_M`, straight up) only where nothing else determines them.

    Parameters
    ----------
    counts, tempo_bpm, flight : float or None
        Length in counts, beats a minute, time in the air in s; two of them give the third.
    release_m, catch_m, distance_m : float or None
        As in :class:`Toss`.
    rise_m, apex_m : float or None
        Height of the toss above the release, and above the floor.
    speed_mps, angle_deg : float or None
        Release speed, and its angle above the horizontal. Of a high and a flat way to throw so far with a given
        speed, the high one is meant.
    otherwise : mapping or None
        What to assume of ``release``, ``catch`` and ``distance`` instead, m: as a trace shows them, for example.

    Raises
    ------
    CoachError
        If a value is out of its range, the set is too small, its values contradict each other, or nobody can throw
        that: the nearest that can be thrown is named.

    Examples
    --------
    >>> round(solve_toss(counts=4, tempo_bpm=120, release_m=1.5, catch_m=1.5).rise_m, 6)
    4.903325
    >>> round(solve_toss(rise_m=6, tempo_bpm=120, release_m=1.5, catch_m=1.5).counts, 3)
    4.425
    """
    given = {
        "counts": counts,
        "tempo": tempo_bpm,
        "flight": flight,
        "release": release_m,
        "catch": catch_m,
        "distance": distance_m,
        "rise": rise_m,
        "apex": apex_m,
        "speed": speed_mps,
        "angle": angle_deg,
    }
    stated = {name: float(value) for name, value in given.items() if value is not None}
    check_values(stated)
    known, assumed = complete(stated, {"release": RELEASE_M, "catch": CATCH_M, "distance": 0.0, **(otherwise or {})})
    toss = Toss(
        flight=known["flight"],
        release_m=known["release"],
        catch_m=known["catch"],
        distance_m=known["distance"],
        counts=known.get("counts"),
        assumed=assumed,
    )
    _check_throwable(toss, stated)
    _check_agreement(toss, stated)
    return toss


def tabulate_tosses(
    *,
    tempo_bpm: float,
    counts: Iterable[float] = range(2, 9),
    release_m: float = RELEASE_M,
    catch_m: float = CATCH_M,
    distance_m: float = 0.0,
) -> tuple[list[Toss], list[tuple[float, CoachError]]]:
    """Return the tosses of each number of counts at a tempo, and the impossible ones with their reasons.

    Parameters
    ----------
    tempo_bpm : float
    counts : iterable of float
        Lengths of the flights.
    release_m, catch_m, distance_m : float
        As in :class:`tempo_coach.pattern.toss.toss.Toss`.

    Raises
    ------
    CoachError
        If a value is out of its range.

    Examples
    --------
    >>> tosses, beyond = tabulate_tosses(tempo_bpm=120)
    >>> [round(toss.rise_m, 1) for toss in tosses], [counts for counts, _ in beyond]
    ([0.9, 2.5, 4.6, 7.4, 10.7, 14.7], [8])
    """
    tosses: list[Toss] = []
    beyond: list[tuple[float, CoachError]] = []
    for number in counts:
        try:
            tosses.append(
                solve_toss(
                    counts=number,
                    tempo_bpm=tempo_bpm,
                    release_m=release_m,
                    catch_m=catch_m,
                    distance_m=distance_m,
                )
            )
        except CoachError as error:
            if error.where != "flight":
                raise
            beyond.append((number, error))
    return tosses, beyond


def _check_throwable(toss: Toss, stated: dict[str, float]) -> None:
    """Refuse a flight that is too short or too high, naming the nearest possible one in the quantities given."""
    check_values({"release": toss.release_m, "catch": toss.catch_m, "distance": toss.distance_m}, found=True)
    ends = {"release_m": toss.release_m, "catch_m": toss.catch_m}
    shortest, longest = shortest_flight(**ends), longest_flight(**ends)
    if toss.flight < shortest * (1 - 1e-9):
        raise CoachError(
            "toss.thrown_down" if toss.catch_m < toss.release_m else "toss.caught_rising",
            where="flight",
            **_lasting(toss, shortest, stated),
            release_m=toss.release_m,
            catch_m=toss.catch_m,
        )
    if toss.flight > longest:
        raise CoachError(
            "toss.above_halls",
            where="flight",
            **_lasting(toss, longest, stated),
            rise_m=toss.rise_m,
            highest_m=HIGHEST_APEX_M,
        )


def _lasting(toss: Toss, nearest: float, stated: dict[str, float]) -> dict[str, object]:
    """Return the duration of a toss and the nearest possible one, in the quantities given."""
    return {
        "flight_s": toss.flight,
        "nearest_s": nearest,
        "counts": toss.counts,
        "tempo_bpm": toss.tempo_bpm,
        "keeps_tempo": "tempo" in stated,
    }


def _check_agreement(toss: Toss, stated: dict[str, float]) -> None:
    """Refuse an overdetermined set of quantities unless it is consistent."""
    found = {
        "counts": toss.counts,
        "tempo": toss.tempo_bpm,
        "flight": toss.flight,
        "release": toss.release_m,
        "catch": toss.catch_m,
        "distance": toss.distance_m,
        "rise": toss.rise_m,
        "apex": toss.apex_m,
        "speed": toss.speed_mps,
        "angle": toss.angle_deg,
    }
    for name, value in stated.items():
        follows = found[name]
        if follows is not None and not math.isclose(value, follows, rel_tol=1e-6, abs_tol=1e-9):
            others = [(other, stated[other]) for other in stated if other != name]
            raise CoachError(
                "toss.contradiction", where=name, quantity=name, value=value, others=others, reckoned=follows
            )

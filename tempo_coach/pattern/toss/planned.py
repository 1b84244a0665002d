"""Everything that is said of one planned toss: its flight, its air, what a wrong release does, moves under it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tempo_coach.errors import CoachError
from tempo_coach.pattern.toss.bodies import find_body
from tempo_coach.pattern.toss.drag import add_drag
from tempo_coach.pattern.toss.moves import fit_moves, read_moves
from tempo_coach.pattern.toss.release import REACH_M, find_passing, find_windows, show_sensitivity, turn_of_arm
from tempo_coach.pattern.toss.solver import CATCH_M, RELEASE_M, solve_toss, tabulate_tosses

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.pattern.toss.drag import DragToss
    from tempo_coach.pattern.toss.moves import MoveFit
    from tempo_coach.pattern.toss.toss import Toss


@dataclass(frozen=True)
class PlannedToss:
    """A toss with what follows from it.

    Parameters
    ----------
    toss : Toss
    drag : DragToss or None
        The same flight through air; None without an apparatus.
    turning_dps : float
        Angular velocity of the arm at the release, degrees a second.
    turning_estimated : bool
        Whether that is of the speed and the arm's length.
    reach_m : float
        Distance by which a catch may be off, m.
    sensitivity : sequence of dict
        As :func:`~tempo_coach.pattern.toss.release.show_sensitivity` gives it.
    windows : mapping of str to (float, float)
        Tolerance of each component of the release.
    passing : (float, float)
        For how long before and after the catch it is within reach, s.
    fits : sequence of MoveFit
        Empty where the counts are not known.
    """

    toss: Toss
    drag: DragToss | None
    turning_dps: float
    turning_estimated: bool
    reach_m: float
    sensitivity: Sequence[dict[str, Any]]
    windows: Mapping[str, tuple[float, float]]
    passing: tuple[float, float]
    fits: Sequence[MoveFit]

    def to_dict(self) -> dict[str, Any]:
        """Return the values under the names of ``toss --json``."""
        return self.toss.to_dict(self.drag) | {
            "turning_dps": self.turning_dps,
            "sensitivity": list(self.sensitivity),
            "reach_m": self.reach_m,
            "windows": {name: list(edges) for name, edges in self.windows.items()},
            "passing_s": list(self.passing),
            "moves": [fit.to_dict() for fit in self.fits],
        }


@dataclass(frozen=True)
class TossTable:
    """Tosses of 2 to 8 counts at one tempo.

    Parameters
    ----------
    tosses : sequence of Toss
    beyond : sequence of (float, CoachError)
        Counts whose toss cannot be thrown, and why.
    drags : sequence of (DragToss or None), or None
        One for each toss, None where nobody throws so fast; None without an apparatus.
    """

    tosses: Sequence[Toss]
    beyond: Sequence[tuple[float, CoachError]]
    drags: Sequence[DragToss | None] | None

    def to_dict(self) -> dict[str, Any]:
        """Return the values under the names of ``toss --table --json``."""
        shown = [toss.to_dict(self.drags[k] if self.drags else None) for k, toss in enumerate(self.tosses)]
        return {"tosses": shown, "beyond": [counts for counts, _ in self.beyond]}


def plan_toss(
    asked: Mapping[str, float],
    *,
    apparatus: str | None = None,
    turning_dps: float | None = None,
    reach_m: float | None = None,
    moves: str | Path | None = None,
) -> PlannedToss:
    """Plan a toss.

    Parameters
    ----------
    asked : mapping
        Arguments of :func:`~tempo_coach.pattern.toss.solver.solve_toss`.
    apparatus : str or None
        Whose air is counted in.
    turning_dps : float or None
        Angular velocity of the arm, degrees a second; by default of the speed and the arm's length.
    reach_m : float or None
        Distance by which a catch may be off, m.
    moves : path or None
        Another table of moves.

    Raises
    ------
    CoachError
        If what is asked cannot be thrown, or the table of moves cannot be read.
    """
    body = find_body(apparatus) if apparatus else None
    known = read_moves(Path(moves) if moves else None)
    toss = solve_toss(**asked, otherwise=None)
    drag: DragToss | None = None
    if body:
        drag = add_drag([toss], body)[0]
        if drag is None:
            raise CoachError("toss.too_fast_in_air", where="flight", name=body.name)
    reach = REACH_M if reach_m is None else reach_m
    turning = turn_of_arm(toss) if turning_dps is None else turning_dps
    return PlannedToss(
        toss,
        drag,
        turning,
        turning_dps is None,
        reach,
        show_sensitivity(toss, turning_dps=turning),
        find_windows(toss, reach_m=reach, turning_dps=turning),
        find_passing(toss, reach_m=reach),
        [] if toss.counts is None else fit_moves(toss.counts, known),
    )


def plan_table(
    tempo_bpm: float,
    *,
    release_m: float | None = None,
    catch_m: float | None = None,
    distance_m: float | None = None,
    apparatus: str | None = None,
) -> TossTable:
    """Plan the tosses of 2 to 8 counts.

    Parameters
    ----------
    tempo_bpm : float
    release_m, catch_m, distance_m : float or None
        Heights above the floor and way along it, m.
    apparatus : str or None
        Whose air is counted in.

    Raises
    ------
    CoachError
        If a value cannot be, or there is no such apparatus.
    """
    tosses, beyond = tabulate_tosses(
        tempo_bpm=tempo_bpm,
        release_m=RELEASE_M if release_m is None else release_m,
        catch_m=CATCH_M if catch_m is None else catch_m,
        distance_m=distance_m or 0.0,
    )
    return TossTable(tosses, beyond, add_drag(tosses, find_body(apparatus)) if apparatus else None)

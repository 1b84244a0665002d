"""A studied movement as text: cycles unrolled, periods, places of the circles, the path."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.report.drawings.dial import draw_path, draw_places
from tempo_coach.report.drawings.unroll import draw_periods, draw_unrolled

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.score.trace.study import Study


def draw_study(found: Study, *, taught: Sequence[float] = (), asked: float | None = None, plain: bool = False) -> str:
    """Return the pictures of a movement one under the other, or with ``plain`` the part that can be read aloud.

    Parameters
    ----------
    found : Study
    taught : sequence of float
        Where circles are taught, as parts of the cycle.
    asked : float or None
        Period that is asked for, s.
    plain : bool
    """
    main = found.main
    periods = draw_periods(main, asked=asked)
    if plain:
        return periods
    pictures = [draw_unrolled(main, [flag for name, flag in found.uneven if name == main.name]), periods]
    if found.places:
        pictures.append(draw_places(found.places, taught=taught))
    if main.trace.quantity == "position" and main.trace.values.shape[1] > 1:
        pictures.append(draw_path(main))
    return "\n\n".join(pictures)

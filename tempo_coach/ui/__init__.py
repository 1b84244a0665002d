"""Screens: they draw values and hand events on; they decide nothing.

``app``, ``screen``, ``form`` and ``row_widgets`` are the base of all screens, ``terminal`` starts them, ``help``
explains them, ``palette``, ``glyphs`` and ``text_rows`` are their look. ``practice``, ``counts`` and ``history`` are
the screens, and ``group`` with ``group_setup`` that of a group that is judged from files.
"""

from __future__ import annotations

__all__ = ["open_screens"]


def open_screens(*, plain: bool = False) -> int:
    """Open the list of today where there is a history, or the set-up, and return an exit code when she leaves.

    Parameters
    ----------
    plain : bool
        Whether everything is asked and told line by line instead.
    """
    if plain:
        from tempo_coach.ui.practice.line_by_line import open_in_lines

        return open_in_lines()
    from tempo_coach.coach.athletes import list_names
    from tempo_coach.coach.looking_back import find_history
    from tempo_coach.errors import CoachError
    from tempo_coach.ui.terminal import run_screens, run_today

    try:
        names = list_names(find_history()) if find_history().exists() else ()
    except CoachError:
        names = ()  # the history says what is wrong with it where it is opened
    if names:
        run_today(find_history(), names[0])
    else:
        run_screens()
    return 0

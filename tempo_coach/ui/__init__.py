"""Screens: a thin shell that draws values and hands events on."""

from __future__ import annotations

__all__ = ["open_screens"]


def open_screens(*, plain: bool = False) -> int:
    """Open the set-up screen, and return an exit code when she leaves.

    Parameters
    ----------
    plain : bool
        Whether everything is asked and told line by line instead.
    """
    if plain:
        from tempo_coach.ui.practice.line_by_line import open_in_lines

        return open_in_lines()
    from tempo_coach.ui.terminal import run_screens

    run_screens()
    return 0

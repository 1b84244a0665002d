"""Screens: a thin shell that draws values and hands events on."""

from __future__ import annotations

__all__ = ["open_screens"]


def open_screens() -> int:
    """Open the set-up screen, and return an exit code when she leaves."""
    from tempo_coach.ui.start import run_screens

    run_screens()
    return 0

"""The colours of the floor card: dark ink on pale card, and three that people tell apart whatever their eyes.

The three are from Okabe & Ito, "Color Universal Design" (2008). None of them ever says anything alone: shape and word
say it too. Where the environment asks for no colour (``NO_COLOR``, no-color.org), bold and reverse are left.
"""

from __future__ import annotations

import os
from dataclasses import dataclass

#: Okabe & Ito's blue, orange and reddish purple.
BLUE, ORANGE, PINK = "#0072B2", "#E69F00", "#CC79A7"
INK, CARD, FAINT, LINE = "#1D1B18", "#F6F1E4", "#6B6558", "#D8CFBA"

#: What stands for the moments of the first, second and any further hand.
HAND_MARKS = ("●", "◆", "■")


@dataclass(frozen=True)
class Palette:
    """Styles by what they are for, in rich's words.

    Parameters
    ----------
    text, faint, strong, next, number : str
        Running text, what matters less, what matters, the move to come, the big number.
    hands : tuple of str
        Marks of the first, second and any further hand.
    done, coming : str
        The part of the cycle that is over, and the rest of it.
    early, late, steady : str
        The last word.
    warning : str
        What she has to know now.
    bar : str
        The head and foot of the card.
    card : str
        What the card itself is drawn on; empty leaves the terminal's own.
    """

    text: str = f"{INK} on {CARD}"
    faint: str = f"{FAINT} on {CARD}"
    strong: str = f"bold {INK} on {CARD}"
    next: str = f"{FAINT} on {CARD}"
    number: str = f"{INK} on {CARD}"
    hands: tuple[str, str, str] = (f"bold {BLUE} on {CARD}", f"bold #9A6A00 on {CARD}", f"bold #A24C7C on {CARD}")
    done: str = f"{BLUE} on {CARD}"
    coming: str = f"{LINE} on {CARD}"
    early: str = f"bold #FFFFFF on {BLUE}"
    late: str = f"bold {INK} on {ORANGE}"
    steady: str = f"bold {INK} on {CARD}"
    warning: str = f"bold {INK} on {PINK}"
    bar: str = f"{CARD} on {INK}"
    card: str = CARD


PLAIN = Palette(
    text="",
    faint="",
    strong="bold",
    next="",
    number="",
    hands=("bold", "bold", "bold"),
    done="",
    coming="",
    early="reverse",
    late="reverse",
    steady="bold",
    warning="reverse",
    bar="reverse",
    card="",
)


def find_palette() -> Palette:
    """Return the colours, or none where the environment asks for none."""
    return PLAIN if os.environ.get("NO_COLOR") else Palette()

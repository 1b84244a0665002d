"""The colours of the practice card: ink on a pale card or a dark one, and three that all eyes tell apart.

The three are from Okabe & Ito, "Color Universal Design" (2008). None of them ever says anything alone: shape and word
say it too. Text stands out from its ground by 4.5 to 1 at least, and what is drawn by 3 to 1 (WCAG 2.1, 1.4.3 and
1.4.11). Where the environment asks for no colour (``NO_COLOR``, no-color.org), bold and reverse are left.
"""

from __future__ import annotations

import os
from dataclasses import dataclass

#: Okabe & Ito's blue, orange and reddish purple.
BLUE, ORANGE, PINK = "#0072B2", "#E69F00", "#CC79A7"
INK, CARD, FAINT, LINE = "#1D1B18", "#F6F1E4", "#6B6558", "#938A74"
#: The same on a dark card; the blue there is Okabe & Ito's sky blue.
PALE, NIGHT, DIM, SHADE, SKY = "#F2EDE2", "#1B1D21", "#A9A294", "#767165", "#56B4E9"
#: Says which card there is to be, ``dark`` or ``light``.
VARIABLE = "TEMPO_COACH_CARD"

#: What stands for the moments of the first, second and any further hand.
HAND_MARKS = ("●", "◆", "■")
#: The same where the first cycle does not ask for them yet.
LATER_MARKS = ("○", "◇", "□")


@dataclass(frozen=True)
class Palette:
    """Styles by purpose, in rich's syntax.

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
    hands: tuple[str, str, str] = (f"bold {BLUE} on {CARD}", f"bold #8F6200 on {CARD}", f"bold #9A4275 on {CARD}")
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


DARK = Palette(
    text=f"{PALE} on {NIGHT}",
    faint=f"{DIM} on {NIGHT}",
    strong=f"bold {PALE} on {NIGHT}",
    next=f"{DIM} on {NIGHT}",
    number=f"{PALE} on {NIGHT}",
    hands=(f"bold {SKY} on {NIGHT}", f"bold {ORANGE} on {NIGHT}", f"bold {PINK} on {NIGHT}"),
    done=f"{SKY} on {NIGHT}",
    coming=f"{SHADE} on {NIGHT}",
    early=f"bold {NIGHT} on {SKY}",
    late=f"bold {NIGHT} on {ORANGE}",
    steady=f"bold {PALE} on {NIGHT}",
    warning=f"bold {NIGHT} on {PINK}",
    bar=f"{NIGHT} on {PALE}",
    card=NIGHT,
)


def find_palette() -> Palette:
    """Return the palette that the environment asks for: none, a dark card, or a pale one.

    ``TEMPO_COACH_CARD`` says it; else some terminals tell their colours in ``COLORFGBG``, the ground's last, of which
    0 to 6 and 8 are dark. A gymnast three metres away reads the pale card best, so that is what comes without either.
    """
    if os.environ.get("NO_COLOR"):
        return PLAIN
    asked = os.environ.get(VARIABLE, "")
    ground = os.environ.get("COLORFGBG", "").rpartition(";")[2]
    dark = asked == "dark" or (asked != "light" and ground in {"0", "1", "2", "3", "4", "5", "6", "8"})
    return DARK if dark else Palette()


def css_variables(palette: Palette) -> dict[str, str]:
    """Return a palette as variables of Textual's styles: ``card-ink``, ``bar-ground``, ``strong-style`` ...

    Running text is called ``card``; a colour that a palette leaves to the terminal is the terminal's own.
    """
    from rich.style import Style

    found = {}
    for name in ("text", "faint", "strong", "warning", "bar"):
        style = Style.parse(getattr(palette, name))
        prefix = "card" if name == "text" else name
        found[f"{prefix}-ink"] = style.color.name if style.color else "ansi_default"
        found[f"{prefix}-ground"] = style.bgcolor.name if style.bgcolor else "ansi_default"
        words = [word for word, on in (("bold", style.bold), ("reverse", style.reverse)) if on]
        found[f"{prefix}-style"] = " ".join(words) or "none"
    return found

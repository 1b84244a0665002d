"""SVG elements as markup: what is written in them is escaped, and numbers have one digit after the point."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from tempo_coach.signs import escape

if TYPE_CHECKING:
    from collections.abc import Iterable

#: Okabe and Ito's palette, and two greys, for drawings that stand alone.
BLUE, ORANGE, INK, PALE = "#0072B2", "#D55E00", "#222222", "#BBBBBB"


def tag(name: str, /, *inside: str, css: str = "", digits: int = 1, **attributes: Any) -> Markup:
    """Return an element.

    Parameters
    ----------
    *inside : str
        Elements, and words, which are escaped.
    css : str
        Its class; none by default.
    digits : int
        Of numbers that are not whole.
    **attributes : str or float
        By name, ``_`` standing for ``-``.

    Examples
    --------
    >>> str(tag("text", "a < b", x=2.0, y=1 / 3, text_anchor="end"))
    '<text x="2" y="0.3" text-anchor="end">a &lt; b</text>'
    >>> str(tag("circle", css="ring", r=4))
    '<circle class="ring" r="4"/>'
    """
    given: dict[str, Any] = {"class": css, **attributes} if css else attributes
    head = name + "".join(f' {key.replace("_", "-")}="{_say(value, digits)}"' for key, value in given.items())
    if not inside:
        return Markup(f"<{head}/>")
    within = "".join(part if isinstance(part, Markup) else escape(part) for part in inside)
    return Markup(f"<{head}>{within}</{name}>")


def _say(value: str | float, digits: int) -> str:
    if isinstance(value, str):
        return escape(value)
    return _number(value, digits)


def _number(value: float, digits: int = 1) -> str:
    told = f"{value:.{digits}f}"
    return told.rstrip("0").rstrip(".") if "." in told else told


def path(points: Iterable[tuple[float, float]]) -> str:
    """Return points as the attribute of a line or an area."""
    return " ".join(f"{_number(x)},{_number(y)}" for x, y in points)


def picture(
    title: str, width: float, height: float, parts: Iterable[str], *, css: str = "", **attributes: Any
) -> Markup:
    """Return a picture that fills its container on a page, with a title for screen readers."""
    inside = Markup("\n").join([tag("title", title), *parts, ""])
    box = f"0 0 {width:g} {height:g}"
    return tag("svg", inside, css=css, viewBox=box, **attributes, role="img", aria_label=title)


class Drawing(Markup):
    """A picture that stands alone or inside another one."""

    width: float
    height: float

    def at(self, x: float, y: float) -> Markup:
        """Return it as part of another picture, with its upper left corner at a point."""
        return Markup(str(self).replace("<svg ", f'<svg x="{x:g}" y="{y:g}" ', 1))


def drawing(title: str, width: float, height: float, parts: Iterable[str], **attributes: Any) -> Drawing:
    """Return a picture with its own size, namespace and fonts."""
    made = Drawing(
        tag(
            "svg",
            Markup("\n").join([tag("title", title), *parts, ""]),
            xmlns="http://www.w3.org/2000/svg",
            viewBox=f"0 0 {width:g} {height:g}",
            width=width,
            height=height,
            role="img",
            font_family="sans-serif",
            **attributes,
        )
    )
    made.width, made.height = width, height
    return made

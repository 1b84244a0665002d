"""Pictures as values: axes and marks in SVG, coloured by the style of the page that they stand in.

A picture is 480 units wide so that its letters can be read on a phone. Hands are told apart by shape as well as by
colour; the classes are those of :data:`tempo_coach.report.pages.page.STYLE`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from tempo_coach.languages import tr
from tempo_coach.report.drawings.svg import path, picture, tag
from tempo_coach.signs import columns

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from markupsafe import Markup

WIDTH = 480.0
#: Left, right, top, bottom of the field in which a picture is drawn.
LEFT, RIGHT, TOP, BOTTOM = 54.0, 12.0, 14.0, 42.0
#: Radius of a mark.
SIZE = 4.0


@dataclass(frozen=True)
class Axis:
    """A range of values mapped to a stretch of the picture.

    Parameters
    ----------
    low, high : float
        Values at ``start`` and ``end``; different ones.
    start, end : float
        In units of the picture.
    """

    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        """Return the position of a value in the picture."""
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)


@dataclass
class Plot:
    """A picture under construction.

    Parameters
    ----------
    title : str
        What it shows, for whoever cannot see it.
    """

    title: str
    height: float
    x: Axis
    y: Axis
    parts: list[Markup] = field(default_factory=list)

    def line(self, points: Iterable[tuple[float, float]], css: str) -> None:
        """Draw a line through points."""
        self.parts.append(tag("polyline", css=css, points=path((self.x(a), self.y(b)) for a, b in points)))

    def area(self, points: Iterable[tuple[float, float]], css: str) -> None:
        """Fill the polygon through points."""
        self.parts.append(tag("polygon", css=css, points=path((self.x(a), self.y(b)) for a, b in points)))

    def band(self, low: float, high: float, css: str) -> None:
        """Fill the whole width between two values."""
        top, bottom = self.y(min(high, self.y.high)), self.y(max(low, self.y.low))
        self.box(self.x.start, top, self.x.end, max(bottom, top), css)

    def stretch(self, start: float, end: float, css: str) -> None:
        """Fill the whole height between two values."""
        left, right = self.x(max(start, self.x.low)), self.x(min(end, self.x.high))
        self.box(left, self.y.end, max(right, left), self.y.start, css)

    def box(
        self, left: float, top: float, right: float, bottom: float, css: str, *, fill_opacity: float | None = None
    ) -> None:
        """Fill a rectangle given in units of the picture."""
        shade: dict[str, Any] = {} if fill_opacity is None else {"fill_opacity": f"{fill_opacity:.2f}"}
        self.parts.append(tag("rect", css=css, x=left, y=top, width=right - left, height=bottom - top, **shade))

    def column(self, place: float, value: float, css: str) -> None:
        """Draw a vertical bar from the lower edge to a value, three quarters of a step wide."""
        self.box(self.x(place - 0.38), self.y(value), self.x(place + 0.38), self.y.start, css)

    def rise(self, x: float, css: str, *, end: float | None = None) -> None:
        """Draw a line from the lower edge to the upper one, or to ``end``, in units of the picture."""
        self.parts.append(tag("line", css=css, x1=x, x2=x, y1=self.y.start, y2=self.y.end if end is None else end))

    def cross(self, y: float, css: str) -> None:
        """Draw a line from the left edge to the right one, in units of the picture."""
        self.parts.append(tag("line", css=css, x1=self.x.start, x2=self.x.end, y1=y, y2=y))

    def upright(self, place: float, word: str) -> None:
        """Draw a vertical line at a value, with a word beside its top."""
        x = self.x(place)
        self.rise(x, "jump")
        left = x + 8.0 * columns(word) > self.x.end
        self.text(x - 4 if left else x + 4, self.y.end + 12, word, anchor="end" if left else "start", css="name")

    def mark(self, a: float, b: float, hand: int, *, ringed: bool = False) -> None:
        """Draw a hand's mark at a point; a ring around it means that it is flagged."""
        x, y = self.x(a), self.y(b)
        if ringed:
            self.parts.append(tag("circle", css="ring", cx=x, cy=y, r=2 * SIZE))
        self.parts.append(shape(x, y, hand))

    def text(self, x: float, y: float, words: str, *, anchor: str = "start", css: str = "") -> None:
        """Write text at a point of the picture."""
        self.parts.append(tag("text", words, css=css, x=x, y=y, text_anchor=anchor))

    def grid_y(self, say: Callable[[float], str], *, name: str) -> None:
        """Draw horizontal lines at round values, and the name of the axis above."""
        for value in ticks(self.y.low, self.y.high, 5):
            y = self.y(value)
            self.cross(y, "zero" if value == 0 else "grid")
            self.text(self.x.start - 6, y + 4.5, say(value), anchor="end")
        self.text(0, 11, tr(name), css="name")

    def lines_up(self) -> None:
        """Draw vertical lines at round values; :meth:`grid_x` labels them."""
        for value in ticks(self.x.low, self.x.high, 5):
            self.rise(self.x(value), "zero" if value == 0 else "grid")

    def bar_across(self, low: float, high: float, height: float) -> None:
        """Draw a horizontal bar from one value to another, centred at a height."""
        a, b = self.x(low), self.x(high)
        y = self.y(height) - 6
        self.parts.append(tag("rect", css="bar rest", x=a, y=y, width=b - a, height=12, rx=3))

    def grid_x(self, marks: Sequence[tuple[float, str]], *, name: str) -> None:
        """Label positions where there is room, and name the axis below."""
        last = -math.inf
        for value, words in marks:
            x = self.x(value)
            half = 5.0 * columns(words)
            if x - half >= last and x + half <= WIDTH:
                self.text(x, self.height - BOTTOM + 17, words, anchor="middle")
                last = x + half + 6
        self.text((self.x.start + self.x.end) / 2, self.height - 6, tr(name), anchor="middle", css="name")

    def svg(self) -> Markup:
        """Return the picture."""
        return picture(self.title, WIDTH, self.height, self.parts)


def names_width(names: Iterable[str], letter: float) -> float:
    """Return the units that the widest of some names takes, at those of a Latin letter.

    Letters of other alphabets are wider in the fonts of browsers (of Cyrillic in bold by about a third);
    those of two columns of a terminal are as wide as two.
    """
    return max(
        sum(letter * columns(each) * (1.35 if columns(each) == 1 and not each.isascii() else 1) for each in name)
        for name in names
    )


def make_picture(
    title: str, xs: tuple[float, float], ys: tuple[float, float], *, height: float = 260.0, left: float = LEFT
) -> Plot:
    """Return an empty picture with two ranges of values; an empty range is widened."""
    x_low, x_high = xs if xs[1] > xs[0] else (xs[0] - 0.5, xs[0] + 0.5)
    y_low, y_high = ys if ys[1] > ys[0] else (ys[0] - 0.5, ys[0] + 0.5)
    return Plot(
        title,
        height,
        Axis(x_low, x_high, left, WIDTH - RIGHT),
        Axis(y_low, y_high, height - BOTTOM, TOP + 8),
    )


def shape(x: float, y: float, hand: int) -> Markup:
    """Return a hand's mark: a disc, a square, a triangle."""
    which = hand % 3
    css = f"h{which}"
    if which == 0:
        return tag("circle", css=css, cx=x, cy=y, r=SIZE)
    if which == 1:
        return tag("rect", css=css, x=x - 3.6, y=y - 3.6, width=7.2, height=7.2)
    return tag("polygon", css=css, points=path([(x, y - 5), (x + 4.6, y + 3.6), (x - 4.6, y + 3.6)]))


def ticks(low: float, high: float, number: int) -> list[float]:
    """Return about that many round values within a range.

    Examples
    --------
    >>> ticks(-47, 52, 5)
    [-40.0, -20.0, 0.0, 20.0, 40.0]
    """
    if not high > low:
        return [low]
    rough = (high - low) / max(number, 1)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(factor * power for factor in (1, 2, 2.5, 5, 10) if factor * power >= rough * 0.999)
    first = math.ceil(low / step - 1e-9)
    return [round(k * step, 12) + 0.0 for k in range(first, math.floor(high / step + 1e-9) + 1)]


def whole_ticks(low: int, high: int, number: int = 12) -> list[int]:
    """Return integers at even steps from the first to the last, at most about that many.

    Examples
    --------
    >>> whole_ticks(1, 24)
    [1, 3, 5, 7, 9, 11, 13, 15, 17, 19, 21, 23]
    """
    step = max(1, -(-(high - low + 1) // number))
    return list(range(low, high + 1, step))


def signed(value: float) -> str:
    """Return a number with its sign, a true minus, and 0 without any.

    Examples
    --------
    >>> [signed(value) for value in (-20.0, 0.0, 7.5)]
    ['−20', '0', '+7.5']
    """
    return f"{value:+g}".replace("-", "−") if value else "0"


def room(values: Iterable[float], *, least: float, around: float | None = None) -> tuple[float, float]:
    """Return a range that holds values with a margin, of a minimum width, symmetric about ``around``."""
    known = [value for value in values if math.isfinite(value)]
    low, high = min(known, default=0.0), max(known, default=0.0)
    if around is not None:
        half = max(high - around, around - low, least / 2) * 1.08
        return around - half, around + half
    span = max(high - low, least)
    middle = (low + high) / 2
    return middle - 0.54 * span, middle + 0.54 * span

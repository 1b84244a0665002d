"""Text without drawings, for whoever hears it read out: bars, braille and rows of signs go, figures and words stay.

Drawn signs are recognised by themselves. A drawing whose rows have words or numbers only asks :func:`is_read_out`, and
leaves them out: no word is ever searched, in whatever language it is.
"""

from __future__ import annotations

import re
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

_read_out: ContextVar[bool] = ContextVar("read_out", default=False)

#: Box drawing, blocks and braille (Unicode 15, blocks 2500 to 259F and 2800 to 28FF), and geometric shapes (25A0 to
#: 25FF), one of which is a sign and several in a row a bar.
_DRAWN, _SHAPES = "\u2500-\u259f\u2800-\u28ff", "\u25a0-\u25ff"
_BRAILLE = re.compile("[\u2800-\u28ff]")
#: A word that is a drawing: drawn signs, or some dots, waves or shapes in a row, with whatever sign stands among them.
_DRAWING = re.compile(rf"\S*(?:[{_DRAWN}]|[{_SHAPES}]{{2,}}|·{{3,}}|\.{{4,}}|~{{4,}})\S*")
#: The head of a scale that is drawn below it: what its two ends mean, with its middle between them.
_SCALE = re.compile(r"\S+(?: \S+)? {2,}\| {2,}\S+(?: \S+)?")
#: Signs that stand for a thing that is named beside them.
_SIGNS = re.compile(rf"[{_SHAPES}›▏▁]")
#: A row of a drawing of which no more than this many words are left says nothing.
_LABELS = 2


@contextmanager
def reading_out() -> Iterator[None]:
    """Have everything that is drawn inside made for reading out."""
    token = _read_out.set(True)
    try:
        yield
    finally:
        _read_out.reset(token)


def is_read_out() -> bool:
    """Return whether what is drawn now is going to be read out."""
    return _read_out.get()


def plain_text(text: str) -> str:
    """Return text without its drawings.

    A line that was a drawing goes altogether; a row of a table keeps its words and figures.

    Examples
    --------
    >>> plain_text("right  ····●·····")
    ''
    >>> plain_text("    6      4     5&  right  ..........|........o.    123%  LONG")
    '    6  4  5&  right  123%  LONG'
    >>> plain_text("phases  │low────│high───")
    'phases  low  high'
    >>> plain_text("cycle  hand   -25 %     |     +25 %  length")
    'cycle  hand  length'
    """
    rows = [row for row in map(plain_row, text.split("\n")) if row is not None]
    return "\n".join(row for before, row in zip([None, *rows], rows, strict=False) if row or before != "")


def plain_row(row: str) -> str | None:
    """Return one line without its drawings; None where that leaves nothing to be read."""
    if _BRAILLE.search(row):
        return None
    left = _DRAWING.sub(_words_of, _SCALE.sub("", row))
    bare, signs = _SIGNS.subn("", left)
    if bare == row:
        return row
    words = bare.split()
    # a legend has as many words as signs, a row of a drawing its name
    if (signs or _DRAWING.search(row)) and len(words) <= max(_LABELS, signs):
        return None
    return re.sub(r"(?<=\S) {2,}", "  ", bare).rstrip()


def _words_of(drawing: re.Match[str]) -> str:
    """Return the words within a drawing."""
    return "  ".join(re.findall(r"[^\W\d_]{2,}", drawing.group()))

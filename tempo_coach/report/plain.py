"""Text without drawings, for whoever hears it read out: bars, braille and rows of signs go, figures and words stay."""

from __future__ import annotations

import re

#: Box drawing, blocks and braille (Unicode 15, blocks 2500 to 259F and 2800 to 28FF).
_DRAWN = "\u2500-\u259f\u2800-\u28ff"
_BRAILLE = re.compile("[\u2800-\u28ff]")
#: A word that is a drawing: drawn signs, or three dots and more in a row, with whatever sign stands among them.
_DRAWING = re.compile(rf"\S*(?:[{_DRAWN}]|·{{3,}}|\.{{4,}})\S*")
#: Signs that stand for a thing that is named beside them.
_SIGNS = re.compile("[●◆■▲▼◂▸›▏▁]")
#: A row of a drawing of which no more than this many words are left says nothing.
_LABELS = 2


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
    """
    return "\n".join(row for row in map(_plain_row, text.split("\n")) if row is not None)


def _plain_row(row: str) -> str | None:
    if _BRAILLE.search(row):
        return None
    left = _DRAWING.sub(_words_of, row)
    if left == row:
        bare = _SIGNS.sub("", row)
        return row if bare == row else re.sub(r"(?<=\S) {2,}", "  ", bare).rstrip()
    left = re.sub(r"(?<=\S) {2,}", "  ", _SIGNS.sub("", left)).rstrip()
    words = left.split()
    return left if len(words) > _LABELS else None


def _words_of(drawing: re.Match[str]) -> str:
    """What is written within a drawing."""
    return "  ".join(re.findall(r"[^\W\d_]{2,}", drawing.group()))

"""Pages of HTML, each self-contained: made of the templates beside this module.

Nothing is loaded from anywhere and nothing in a page runs. It follows the reader's choice of light or dark, and prints
on A4 in light. Whatever a template is given is escaped, and its controls are shown as signs.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple

from tempo_coach.signs import escape

if TYPE_CHECKING:
    from collections.abc import Sequence

    from jinja2 import Environment
    from markupsafe import Markup

#: Rows of a table behind a picture, at most; a long take is in the JSON.
MOST_ROWS = 400


class Table(NamedTuple):
    """What stands behind a picture: names of the columns, and rows of words."""

    names: Sequence[str]
    rows: Sequence[Sequence[str]]


class Figure(NamedTuple):
    """A picture with its name, a sentence on how to read it, and the table behind it."""

    name: str
    reading: str
    svg: str
    table: Table


def render(template: str, **values: Any) -> str:
    """Return a page, or a part of one.

    Parameters
    ----------
    template : str
        A file of ``templates``.
    **values
        What it names; each of them has to be given.
    """
    return _templates().get_template(template).render(values)


def legend(hands: Sequence[str]) -> list[tuple[Markup, str]]:
    """Return which mark is which hand's; nothing with one hand."""
    from tempo_coach.report.pages.plot import shape

    return [(shape(6, 6, k), hand) for k, hand in enumerate(hands)] if len(hands) > 1 else []


@cache
def _templates() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    def say(value: object) -> object:
        return Markup(escape(value)) if isinstance(value, str) and not isinstance(value, Markup) else value

    made = Environment(
        loader=PackageLoader("tempo_coach.report.pages"),
        autoescape=True,
        finalize=say,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    made.globals["MOST_ROWS"] = MOST_ROWS
    return made

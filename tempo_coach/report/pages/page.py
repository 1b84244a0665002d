"""Pages of HTML, each self-contained: made of the templates beside this module.

Nothing is loaded from anywhere and nothing in a page runs. It follows the reader's choice of light or dark, and prints
on A4 in light. Whatever a template is given is escaped, and its controls are shown as signs.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from tempo_coach.errors import CoachError
from tempo_coach.languages import spoken, tr
from tempo_coach.resources import scratch_folder, written_whole
from tempo_coach.signs import escape

if TYPE_CHECKING:
    from collections.abc import Sequence

    from jinja2 import Environment
    from markupsafe import Markup

#: Rows of a table behind a picture, at most; a long take is in the JSON.
MOST_ROWS = 400
#: Programs that print a page without a window, by the names under which systems install them.
BROWSERS = (
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
    "msedge",
    "microsoft-edge",
)
#: Where they lie on systems that put no programs into the path.
PLACES = (
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    "C:/Program Files/Google/Chrome/Application/chrome.exe",
    "C:/Program Files (x86)/Microsoft/Edge/Application/msedge.exe",
)
#: Seconds that a browser gets.
PATIENCE = 60.0


class Table(NamedTuple):
    """The table behind a picture: names of the columns, and rows of text."""

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
    """Return the legend of the hands' marks; empty with one hand."""
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
    made.globals |= {"MOST_ROWS": MOST_ROWS, "tr": tr, "language": lambda: spoken().code}
    return made


def find_browser() -> str | None:
    """Return a browser that can print, or None."""
    found = (shutil.which(name) for name in BROWSERS)
    return next((path for path in found if path), None) or next((p for p in PLACES if Path(p).is_file()), None)


def check_browser() -> str:
    """Return a browser that can print.

    Raises
    ------
    CoachError
        If there is none.
    """
    browser = find_browser()
    if browser is None:
        raise CoachError("browser.missing", where="--pdf")
    return browser


def print_page(html: str, pdf: str | Path) -> None:
    """Print a page to a PDF file.

    Parameters
    ----------
    html : str
        The page itself.
    pdf : str or Path
        Replaced if it is there.

    Raises
    ------
    CoachError
        If there is no browser, or it prints nothing.
    """
    browser = check_browser()
    with scratch_folder() as folder:
        page, made = folder / "page.html", folder / "page.pdf"
        page.write_text(html, encoding="utf-8")
        options = ["--headless=new", "--disable-gpu", "--no-pdf-header-footer", f"--user-data-dir={folder}/profile"]
        if sys.platform != "win32" and os.geteuid() == 0:
            options.append("--no-sandbox")  # it refuses to run for root otherwise
        try:
            done = subprocess.run(
                [browser, *options, f"--print-to-pdf={made}", page.as_uri()],
                capture_output=True,
                timeout=PATIENCE,
                check=False,
            )
            problem = done.stderr.decode(errors="replace").strip()
        except subprocess.TimeoutExpired:
            problem = tr("it did not finish in {patience:.0f} s", patience=PATIENCE)
        except OSError as error:
            problem = str(error.strerror)
        if not made.is_file() or not made.read_bytes().startswith(b"%PDF"):
            last = problem.splitlines()[-1] if problem else tr("it wrote nothing")
            raise CoachError("browser.failed", where="--pdf", browser=Path(browser).name, said=last[:200])
        with written_whole(Path(pdf)) as temporary:
            shutil.copyfile(made, temporary)

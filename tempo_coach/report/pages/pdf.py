"""A page printed to PDF by a browser that is there; nothing is installed for it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from tempo_coach.errors import CoachError
from tempo_coach.resources import written_whole

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
        raise CoachError(
            "there is no browser that can print here",
            where="--pdf",
            hint="open the HTML page and print it from there, or install Chromium",
        )
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
    with tempfile.TemporaryDirectory(prefix="tempo_coach_") as folder:
        page, made = Path(folder) / "page.html", Path(folder) / "page.pdf"
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
            problem = f"it did not finish in {PATIENCE:.0f} s"
        except OSError as error:
            problem = str(error.strerror)
        if not made.is_file() or not made.read_bytes().startswith(b"%PDF"):
            last = problem.splitlines()[-1] if problem else "it wrote nothing"
            raise CoachError(f"{Path(browser).name} could not print the page: {last[:200]}", where="--pdf")
        with written_whole(Path(pdf)) as temporary:
            shutil.copyfile(made, temporary)

"""The page that asks who is who: one picture of the moment after each crossing, everybody in it numbered."""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.observe.film.frames import read_frames
from tempo_coach.report.drawings.svg import picture, tag
from tempo_coach.report.pages.page import render

if TYPE_CHECKING:
    from collections.abc import Sequence

    from markupsafe import Markup

    from tempo_coach.observe.film.frames import Film
    from tempo_coach.observe.film.gymnasts import Crossing

#: Height of the pictures in pixels, and of the discs with numbers in heights of the film.
HEIGHT, _DISC = 540, 0.035


def crossing_page(film: Film, crossings: Sequence[Crossing]) -> str:
    """Return the page.

    Parameters
    ----------
    film : Film
    crossings : sequence of Crossing
        In their order.
    """
    stills = _take_stills(film, [one.since for one in crossings])
    return render(
        "crossing.html",
        title=tr("Who is who"),
        about=[
            film.path,
            tr("This page holds pictures of people. Delete it when it has been looked at."),
        ],
        crossings=[
            (
                tr("Crossing {number}, at {seconds:.1f} s", number=k, seconds=one.since / film.slowed),
                _figure(film, one, still),
                tr("Not known: {names}. Say their numbers:", names=", ".join(one.unknown)),
                "--after-crossing " + ",".join(f"{name}=…" for name in one.unknown),
            )
            for k, (one, still) in enumerate(zip(crossings, stills, strict=True), 1)
        ],
    )


def _take_stills(film: Film, times: Sequence[float]) -> list[bytes]:
    """Return a JPEG of the first picture at each time or after it, ascending."""
    import cv2

    out: list[bytes] = []
    for frame in read_frames(film):
        while len(out) < len(times) and frame.time >= times[len(out)] - 1e-6:
            out.append(cv2.imencode(".jpg", frame.bgr(height=HEIGHT), [cv2.IMWRITE_JPEG_QUALITY, 82])[1].tobytes())
        if len(out) == len(times):
            break
    return out


def _figure(film: Film, crossing: Crossing, still: bytes) -> Markup:
    """Return the picture with a numbered disc on everybody, and under it the name of who kept her place."""
    encoded = base64.b64encode(still).decode("ascii")
    parts = [tag("image", href=f"data:image/jpeg;base64,{encoded}", width=film.width, height=film.height)]
    names = {number: name for name, number in crossing.kept.items()}
    radius = _DISC * film.height
    for number, (x, y) in enumerate(crossing.standing, 1):
        parts.append(tag("circle", cx=x, cy=y, r=radius, fill="#fff", stroke="#000", stroke_width=radius / 8))
        parts.append(_write(str(number), x, y + 0.5 * radius, 1.4 * radius, "#000"))
        if number in names:
            parts.append(_write(names[number], x, y + 2.2 * radius, radius, "#fff"))
    told = tr("everybody who stands, numbered from left to right")
    return picture(told, film.width, film.height, parts)


def _write(text: str, x: float, y: float, size: float, colour: str) -> Markup:
    """Return a text with its middle at a place, readable on any picture."""
    how = f"font-size:{size:.1f}px;font-weight:bold;fill:{colour};paint-order:stroke;stroke:#888;stroke-width:.5px"
    return tag("text", text, x=x, y=y, text_anchor="middle", style=how)

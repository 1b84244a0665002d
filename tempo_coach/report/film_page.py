"""A page to look at: whether what was followed in a film can be trusted, seen in seconds.

One picture a cycle with the marker's path over it, and a line of time with gaps and doubtful places marked. The page
holds pictures of the film and nothing else does; it is written where it is asked for and nowhere else.
"""

from __future__ import annotations

import base64
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.cycles import find_cycles
from tempo_coach.observe.film import read_frames
from tempo_coach.observe.picking import pick
from tempo_coach.report.page import items, make_page, numbers, say
from tempo_coach.signs import escape

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from tempo_coach.observe.filmed import Filmed
    from tempo_coach.times import Floats

#: Pictures on the page, and their height in pixels.
MOST = 24
HEIGHT = 300
#: Below this a row is called doubtful.
DOUBTFUL = 0.6
#: A marker seen in fewer of the pictures is told first.
SELDOM = 0.85
_HOW_TO_READ = (
    '<p class="small">The path of the cycle that begins there; a circle marks where the marker was found in this '
    "picture. A path that leaves its marker is wrong: leave the stretch out with --without.</p>\n"
)
#: Okabe and Ito's colours; white goes under them, so that a path shows on any picture.
LINES = ("#0072B2", "#D55E00", "#CC79A7", "#009E73", "#E69F00", "#56B4E9")
_DASHES = ("", "6 3", "2 3", "8 3 2 3", "1 4", "10 4")


def film_page(filmed: Filmed, *, progress: Callable[[float], None] | None = None) -> str:
    """Return the page.

    Parameters
    ----------
    filmed : Filmed
    progress : callable or None
        Told the share that is done, 0 to 1.
    """
    film, trace = filmed.film, filmed.trace
    starts = cycle_starts(filmed)
    chosen = starts[np.unique(np.linspace(0, len(starts) - 1, min(MOST, len(starts))).round().astype(int))]
    pictures = _take_pictures(filmed, chosen, progress)
    body = [
        say(sum_up(filmed)),
        numbers(
            [
                (name, f"{100 * filmed.share_seen(name):.0f} %", f"of the pictures; gaps: {len(filmed.gaps(name))}")
                for name in filmed.names
            ]
        ),
        _legend(filmed.names),
        f"<h2>When each was seen</h2>\n{_timeline(filmed)}\n",
        f"<h2>One picture a cycle ({len(chosen)} of {len(starts)})</h2>\n",
        _HOW_TO_READ,
        '<div class="figures">\n',
        *(
            _figure(filmed, time, end, jpeg)
            for time, end, jpeg in zip(chosen, _ends(starts, chosen, trace.time[-1]), pictures, strict=True)
            if jpeg is not None
        ),
        "</div>\n",
        items("What should be known", list(filmed.notes), small=True),
    ]
    about = [
        f"{film.width} × {film.height} pixels, {film.real_rate_hz:.0f} pictures a second",
        "This page holds pictures of people. Delete it when it has been looked at.",
    ]
    return make_page("Followed in the film", about, body)


def sum_up(filmed: Filmed) -> str:
    """Return in one sentence whether the path can be trusted."""
    seldom = [name for name in filmed.names if filmed.share_seen(name) < SELDOM]
    if seldom:
        shares = ", ".join(f"{name} in {100 * filmed.share_seen(name):.0f} %" for name in seldom)
        return f"Often lost: {shares} of the pictures. Look at the gaps before you trust it."
    worst = [(name, _longest(filmed.gaps(name))) for name in filmed.names]
    name, (start, end) = max(worst, key=lambda pair: pair[1][1] - pair[1][0])
    if end - start > 0.3:
        return f"Seen nearly everywhere; the longest gap is {name} from {start:.2f} to {end:.2f} s."
    return "Seen nearly everywhere, with no gap longer than 0.3 s."


def cycle_starts(filmed: Filmed) -> Floats:
    """Return where the first marker's cycles begin, in seconds of the trace.

    Where nothing repeats it is every second, or ``MOST`` even steps of a longer film.

    Returns
    -------
    numpy.ndarray, shape (n,)
    """
    try:
        return find_cycles(pick(filmed.trace, point=filmed.names[0])).starts
    except CoachError:
        time = filmed.trace.time
        return np.arange(time[0], time[-1], max(1.0, float(time[-1] - time[0]) / MOST))


def _longest(gaps: Sequence[tuple[float, float]]) -> tuple[float, float]:
    return max(gaps, key=lambda gap: gap[1] - gap[0], default=(0.0, 0.0))


def _ends(starts: Floats, chosen: Floats, last: float) -> list[float]:
    at = np.searchsorted(starts, chosen, side="right")
    return [float(starts[k]) if k < len(starts) else float(last) for k in at]


def _take_pictures(
    filmed: Filmed, times: Floats, progress: Callable[[float], None] | None
) -> list[tuple[int, bytes] | None]:
    """Return row and JPEG of the picture at each time: the row's own, or the next where rows lie between pictures."""
    import cv2

    rows = [int(np.argmin(np.abs(filmed.trace.time - time))) for time in times]
    out: list[tuple[int, bytes] | None] = [None] * len(times)
    at = 0
    for frame in read_frames(filmed.film):
        if at == len(rows):
            break
        if frame.time / filmed.film.slowed < filmed.trace.time[rows[at]] - 1e-6:
            continue
        done, data = cv2.imencode(".jpg", frame.bgr(height=HEIGHT), [cv2.IMWRITE_JPEG_QUALITY, 78])
        if done:
            out[at] = (rows[at], data.tobytes())
        at += 1
        if progress:
            progress(at / len(rows))
    return out


def _figure(filmed: Filmed, start: float, end: float, picture: tuple[int, bytes]) -> str:
    row, data = picture
    film, time = filmed.film, filmed.trace.time
    inside = (time >= start) & (time <= end)
    width = max(1.5, film.height / 220)
    parts = []
    for k, name in enumerate(filmed.names):
        places = filmed.in_picture(name)
        colour, dashes = LINES[k % len(LINES)], _DASHES[k % len(_DASHES)]
        for run in _runs(places[inside]):
            points = " ".join(f"{x:.1f},{y:.1f}" for x, y in run)
            parts.append(
                f'<polyline points="{points}" fill="none" stroke="#fff" stroke-opacity=".6" '
                f'stroke-width="{2.2 * width:.1f}"/>'
                f'<polyline points="{points}" fill="none" stroke="{colour}" stroke-width="{width:.1f}" '
                f'stroke-dasharray="{dashes}"/>'
            )
        if not np.isnan(places[row]).any():
            parts.append(
                f'<circle cx="{places[row, 0]:.1f}" cy="{places[row, 1]:.1f}" r="{5 * width:.1f}" fill="none" '
                f'stroke="{colour}" stroke-width="{1.4 * width:.1f}"/>'
            )
    lost = [name for name in filmed.names if np.isnan(filmed.in_picture(name)[inside]).any()]
    said = f"{start:.2f} s" + (f": {', '.join(lost)} lost for a while" if lost else "")
    encoded = base64.b64encode(data).decode("ascii")
    return (
        f"<figure>\n<h3>{escape(said)}</h3>\n"
        f'<svg viewBox="0 0 {film.width} {film.height}" role="img" aria-label="{escape(said)}">'
        f'<image href="data:image/jpeg;base64,{encoded}" width="{film.width}" height="{film.height}"/>'
        f"{''.join(parts)}</svg>\n</figure>\n"
    )


def _runs(places: Floats) -> list[Floats]:
    """Cut a path at its gaps."""
    known = ~np.isnan(places).any(axis=1)
    cuts = np.flatnonzero(np.diff(known.astype(int))) + 1
    return [run for run in np.split(places, cuts) if len(run) > 1 and not np.isnan(run[0]).any()]


def _timeline(filmed: Filmed) -> str:
    """A row a marker: filled where it was seen, half high where doubtful, empty in gaps."""
    time = filmed.trace.time
    first, span = float(time[0]), max(float(time[-1] - time[0]), 1e-9)
    wide, high, left = 900, 34, 110
    rows = len(filmed.names)
    parts = []
    steps = np.concatenate([np.diff(time), [span / max(time.size, 1)]])
    for k, name in enumerate(filmed.names):
        y = 8 + k * high
        parts.append(f'<text class="name" x="0" y="{y + 17}">{escape(name[:14])}</text>')
        level = np.where(np.isnan(filmed.in_picture(name)[:, 0]), 0, 1 + (filmed.confidence(name) >= DOUBTFUL))
        cuts = np.concatenate([[0], np.flatnonzero(np.diff(level)) + 1, [level.size]])
        for a, b in pairwise(cuts):
            if level[a] == 0:
                continue
            x = left + (time[a] - first) / span * (wide - left)
            to = left + (time[b - 1] + steps[b - 1] - first) / span * (wide - left)
            tall = 20 if level[a] == 2 else 9
            parts.append(
                f'<rect x="{x:.1f}" y="{y + 20 - tall}" width="{max(to - x, 0.6):.1f}" height="{tall}" '
                f'fill="{LINES[k % len(LINES)]}"/>'
            )
    for second in np.arange(np.ceil(first), first + span, max(1, round(span / 12))):
        x = left + (second - first) / span * (wide - left)
        parts.append(f'<line class="tick" x1="{x:.1f}" y1="4" x2="{x:.1f}" y2="{8 + rows * high}"/>')
        parts.append(f'<text x="{x + 3:.1f}" y="{22 + rows * high}">{second:g} s</text>')
    said = "when each marker was seen: high where surely, low where doubtful, nothing in gaps"
    return (
        f'<svg viewBox="0 0 {wide} {28 + rows * high}" style="max-width:none" role="img" aria-label="{said}">'
        f'{"".join(parts)}</svg><p class="small">High: surely seen. Low: doubtful. Empty: a gap.</p>'
    )


def _legend(names: Sequence[str]) -> str:
    marks = "".join(
        f'<li><svg viewBox="0 0 12 12" aria-hidden="true"><line x1="0" y1="6" x2="12" y2="6" stroke-width="3" '
        f'stroke="{LINES[k % len(LINES)]}" stroke-dasharray="{_DASHES[k % len(_DASHES)]}"/></svg>{escape(name)}</li>'
        for k, name in enumerate(names)
    )
    return f'<ul class="legend">{marks}</ul>\n'

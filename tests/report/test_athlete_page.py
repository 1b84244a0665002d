"""The page of an athlete over time: its parts, its pictures, and takes without figures."""

import pytest

from tempo_coach.history.progress import measure_trend
from tempo_coach.history.records import Note
from tempo_coach.report.athlete_page import athlete_page, draw_trend
from tests.history.season import row
from tests.report.pages import EVIL, check, marks


def test_the_page_of_an_athlete():
    rows = [
        row(
            number=k,
            athlete=EVIL,
            begun=f"2031-0{4 + k // 28}-{k % 28 + 1:02d}T18:00",
            spread_ms=60.0 - k,
            tempo_bpm=90.0 + 5 * (k % 4),
            steady=k % 4 < 3,
            drill=("clubs_mills", "other")[k % 7 == 0],
            title=("Mills", EVIL)[k % 7 == 0],
        )
        for k in range(40)
    ]
    page = athlete_page(rows, notes=[Note(1, "2031-05-04T18:00", EVIL)])
    reader = check(page)
    assert EVIL in "".join(reader.words)
    assert "getting smaller: -7.0 ms a week" in page
    check(athlete_page(rows[:1]))
    check(athlete_page([row(spread_ms=float("nan"), bias_ms=float("nan"), period_cv_pct=float("nan"), n=0)]))


def test_the_line_of_a_trend_goes_through_its_points():
    rows = [row(begun=f"2031-05-{k + 1:02d}", spread_ms=50.0 - 2 * k) for k in range(9)]
    svg = draw_trend(measure_trend(rows), "ms of spread")
    (line,) = marks(svg, "polyline", "fit")
    (x0, y0), (x1, y1) = (tuple(map(float, point.split(","))) for point in line["points"].split())
    points = [(float(mark["cx"]), float(mark["cy"])) for mark in marks(svg)]
    for x, y in points:
        assert y == pytest.approx(y0 + (x - x0) / (x1 - x0) * (y1 - y0), abs=0.15)

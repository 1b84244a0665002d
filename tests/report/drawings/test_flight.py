"""The picture of a flight: where the path and its counts stand, in text and in SVG."""

import re
from xml.etree import ElementTree as ET

import pytest

from tempo_coach.pattern.toss.solver import solve_toss
from tempo_coach.pattern.toss.toss import Toss
from tempo_coach.report.drawings.flight import draw_flight, draw_flight_svg, mark_counts

TOSS = solve_toss(counts=4, tempo_bpm=120, release_m=1.8, catch_m=1.2, distance_m=3)
SVG = "{http://www.w3.org/2000/svg}"


def test_counts_are_named_as_they_are_counted():
    assert mark_counts(TOSS) == [(0, "1"), (0.5, "2"), (1, "3"), (1.5, "4"), (2, "5")]
    assert [name for _, name in mark_counts(TOSS, from_count=7)] == ["7", "8", "1", "2", "3"]
    assert mark_counts(Toss(1.2, 1.5, 1.5, 0)) == [(0, "0 s"), (0.5, "0.5 s"), (1, "1 s")]
    with pytest.raises(ValueError, match="1 to 8"):
        mark_counts(TOSS, from_count=9)


@pytest.mark.parametrize(("width", "height"), [(30, 8), (60, 18), (78, 22), (98, 28)])
@pytest.mark.parametrize("distance", [0.0, 3.0, 12.0])
def test_the_text_fits_and_shows_every_count(width, height, distance):
    toss = solve_toss(counts=4, tempo_bpm=120, distance_m=distance)
    lines = draw_flight(toss, width=width, height=height).splitlines()
    assert max(map(len, lines)) <= width
    floor = next(number for number, line in enumerate(lines) if "└" in line)
    assert floor == height - 3
    shown = re.findall(r"\d+", " ".join(line.split("│")[1] for line in lines[:floor]))
    assert sorted(shown) == ["1", "2", "3", "4", "5"]


def test_the_top_of_the_path_is_in_the_first_rows_and_the_catch_near_its_height():
    lines = draw_flight(TOSS, width=60, height=18).splitlines()
    assert "3" in lines[0]
    assert any(0x2800 < ord(sign) < 0x2900 for sign in lines[0])
    one_metre = next(number for number, line in enumerate(lines) if line.startswith("  1 m"))
    caught = next(number for number, line in enumerate(lines) if re.search(r" 5$", line))
    assert abs(caught - one_metre) <= 1


def test_the_words_say_what_the_picture_shows():
    told = draw_flight(TOSS).replace("\n", " ")
    assert "let go at 1.8 m, 9.6 m/s, 81°; top 6.4 m; caught at 1.2 m, 3.0 m away" in told


def test_the_svg_is_the_parabola_itself():
    root = ET.fromstring(draw_flight_svg(TOSS))
    path = root.find(f"{SVG}path")
    assert path is not None
    x0, y0, cx, cy, x1, y1 = map(float, re.findall(r"-?\d+\.\d+", path.get("d", "")))
    marks = [(float(c.get("cx", "")), float(c.get("cy", ""))) for c in root.findall(f"{SVG}circle")]
    assert len(marks) == 5
    # every count lies on the quadratic curve (de Casteljau) at its share of the flight: x is even in time
    for k, (x, y) in enumerate(marks):
        t = k / 4
        assert x == pytest.approx((1 - t) ** 2 * x0 + 2 * t * (1 - t) * cx + t**2 * x1, abs=0.05)
        assert y == pytest.approx((1 - t) ** 2 * y0 + 2 * t * (1 - t) * cy + t**2 * y1, abs=0.05)
    # one scale both ways: 3 m along, 0.6 m down
    assert (y1 - y0) / (x1 - x0) == pytest.approx(0.6 / 3, abs=0.01)


def test_the_svg_says_in_words_what_it_shows():
    root = ET.fromstring(draw_flight_svg(TOSS))
    assert root.get("role") == "img"
    assert "4 counts, 2.00 s" in (root.findtext(f"{SVG}desc") or "")
    assert root.findtext(f"{SVG}title")


def test_too_small_is_a_callers_mistake():
    with pytest.raises(ValueError, match="30 columns"):
        draw_flight(TOSS, width=20)
    with pytest.raises(ValueError, match="160 px"):
        draw_flight_svg(TOSS, width=100)

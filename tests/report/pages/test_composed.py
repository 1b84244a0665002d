"""One picture of all that a trace showed."""

from xml.etree import ElementTree as ET

import numpy as np
import pytest

from tempo_coach.report.drawings.unroll import periods_svg
from tempo_coach.report.pages.composed import phase_svg, study_svg
from tempo_coach.score.trace.study import study
from tests.generators import movement

SVG = "{http://www.w3.org/2000/svg}"


def titles(picture: str) -> list[str]:
    return [str(each.text) for each in ET.fromstring(picture).iter(f"{SVG}title")]


def test_two_clubs_have_cycles_path_periods_and_phase() -> None:
    told = " / ".join(titles(study_svg(study(movement.mills(2).trace, asked_deg=180))))
    assert "one row a cycle" in told
    assert "path with the low points" in told
    assert "period of each cycle" in told
    assert "second behind first: phase over time" in told
    assert "places" not in told


def test_the_rope_has_the_places_of_its_circles_and_no_phase() -> None:
    told = " / ".join(titles(study_svg(study(movement.rope(2).trace), taught=[0.0, 0.44, 0.56])))
    assert "places of the circles" in told
    assert "phase" not in told


def test_pictures_lie_under_one_another_inside_the_whole() -> None:
    whole = ET.fromstring(study_svg(study(movement.rope(2).trace)))
    boxes = [
        [float(each.get(name, "0")) for name in ("x", "y", "width", "height")] for each in whole.findall(f"{SVG}svg")
    ]
    assert len(boxes) == 4
    assert all(x + wide <= float(whole.get("width", "0")) for x, _, wide, _ in boxes)
    assert all(y + high <= float(whole.get("height", "0")) for _, y, _, high in boxes)
    tops = sorted({y for _, y, _, _ in boxes})
    assert len(tops) == 3


def test_the_course_of_phase_lies_on_its_mean_and_breaks_at_pauses() -> None:
    time = np.concatenate([np.arange(0, 5, 0.01), np.arange(9, 14, 0.01)])
    root = ET.fromstring(phase_svg(time, np.full(time.size, -179.0), title="b & a", asked=180.0, mean=181.0))
    lines = root.findall(f"{SVG}polyline")
    assert len(lines) == 2
    # -179° is 181°, a degree beyond what was asked, and not a circle away from it
    heights = {float(pair.split(",")[1]) for line in lines for pair in str(line.get("points")).split()}
    asked, mean = (float(line.get("y1", "0")) for line in root.findall(f"{SVG}line"))
    assert max(heights) - min(heights) < 0.2
    assert heights.pop() == pytest.approx(mean, abs=0.2)
    assert mean < asked


def test_the_broken_cycle_is_a_square_among_the_periods() -> None:
    found = study(movement.mills(2, fault="long").trace)
    mine = [flag for name, flag in found.uneven if name == "first"]
    root = ET.fromstring(periods_svg(found.main, mine, asked=0.6))
    assert len(root.findall(f"{SVG}rect")) == 1
    assert len(root.findall(f"{SVG}circle")) == found.main.cycles.periods.size - 1
    assert "asked 0.600" in str(root.find(f"{SVG}text").text)  # type: ignore[union-attr]  # a missing text fails too

"""Pictures of a movement unrolled: a row a cycle, the uneven one set apart."""

from xml.etree import ElementTree as ET

import numpy as np
import pytest

from tempo_coach.observe.trace.selection import pick
from tempo_coach.observe.trace.trace import Channel, Trace
from tempo_coach.observe.trace.tracked_body import observe
from tempo_coach.observe.trace.uneven import find_uneven
from tempo_coach.report.drawings.unroll import draw_periods, draw_unrolled, path_svg, places_svg, unrolled_svg
from tempo_coach.score.trace.study import CirclePhase, study
from tests.generators import movement

SVG = "{http://www.w3.org/2000/svg}"


def test_every_cycle_has_a_row_and_the_broken_one_its_words() -> None:
    mover = observe(pick(movement.mills(2, fault="long").trace))
    flags = find_uneven(mover.circles)
    lines = draw_unrolled(mover, flags).splitlines()
    numbered = [line for line in lines if line[:4].strip().isdigit()]
    assert len(numbered) == mover.cycles.periods.size
    assert max(len(line) for line in numbered) <= 78
    assert len(numbered[flags[0].first]) == max(len(line) for line in numbered)
    (words,) = [line for line in lines if "longer than its neighbours" in line]
    assert "◆" in words


def test_wrist_circles_stand_at_their_places() -> None:
    made = movement.rope(1, jitter=0, scatter=0, noise=0)
    lines = draw_unrolled(observe(pick(made.trace)), width=114).splitlines()
    marks = [[at - 14 for at, letter in enumerate(line) if letter == "●"] for line in lines]
    rows = [row for row in marks if len(row) == 3]
    assert len(rows) >= 12
    np.testing.assert_allclose(rows[3], rows[4], atol=2)


def test_periods_stand_left_and_right_of_the_middle() -> None:
    mover = observe(pick(movement.mills(2, fault="long").trace))
    lines = draw_periods(mover).splitlines()
    longest = int(np.argmax(mover.cycles.periods))
    assert lines[1 + longest].index("●") == max(line.index("●") for line in lines[1:])
    assert "asked 0.600" in draw_periods(mover, asked=0.6)


def test_svg_pictures_are_well_formed_and_hold_every_circle() -> None:
    found = study(movement.rope(2, fault="extra").trace)
    mine = [flag for _, flag in found.uneven]
    unrolled = ET.fromstring(unrolled_svg(found.main, mine))
    shown = sum(
        bool(((found.main.cycles.starts <= time) & (time < found.main.cycles.ends)).any())
        for time in found.main.circles.time
    )
    marks = len(unrolled.findall(f"{SVG}circle")) + len(unrolled.findall(f"{SVG}rect"))
    assert marks == shown
    assert len(unrolled.findall(f"{SVG}rect")) >= 4
    dial = ET.fromstring(places_svg(found.places, taught=[0.0, 0.4375, 0.5625]))
    assert len(dial.findall(f"{SVG}rect")) == 3
    assert len(dial.findall(f"{SVG}circle")) == 1 + len(found.places)
    path = ET.fromstring(path_svg(found.main))
    assert len(path.findall(f"{SVG}circle")) == found.main.circles.time.size


def test_low_lies_at_the_bottom_and_rise_on_the_right() -> None:
    dial = ET.fromstring(places_svg([CirclePhase(0.0, 0.01, 9), CirclePhase(0.25, 0.01, 9)], size=320))
    _, low, rise = dial.findall(f"{SVG}circle")
    assert float(low.get("cy", "0")) > 160
    assert float(rise.get("cx", "0")) > 160


def test_a_path_needs_a_plane() -> None:
    time = movement.clock(10, 100)
    mover = observe(Trace(time, np.sin(6 * time)[:, None], [Channel("y", "position", "y")]))
    with pytest.raises(ValueError, match="plane"):
        path_svg(mover)
    assert "●" not in draw_unrolled(mover)

"""The cycle as a line with its circles on it, and a path in dots."""

import numpy as np
import pytest

from tempo_coach.observe.mover import observe
from tempo_coach.observe.trace import Channel, Trace
from tempo_coach.report.dial import draw_path, draw_places
from tempo_coach.score.study import Place
from tests.generators import movement


def test_places_stand_on_a_line_from_low_point_to_low_point() -> None:
    names, taught, done = draw_places([Place(0.0, 0.02, 9), Place(0.5, 0.1, 9)], taught=[0.25], width=88).splitlines()
    assert [names.index(name) - 8 for name in ("low", "rise", "high", "fall")] == [0, 20, 40, 60]
    assert taught.index("□") - 8 == 20
    assert [k - 8 for k, letter in enumerate(done) if letter == "●"] == [0, 40]
    assert done.count("─") > 10


def test_a_path_is_drawn_to_scale_with_its_low_points_below() -> None:
    head, *rows = draw_path(observe(movement.carried(1, n=6).trace), width=40, height=20).splitlines()
    assert head.startswith("x y:")
    assert len(rows) <= 20
    assert max(map(len, rows)) <= 40
    # round, and a character is twice as high as it is wide
    assert max(map(len, rows)) == pytest.approx(2 * len(rows), rel=0.15)
    assert sum(row.count("●") for row in rows) >= 8
    swing = np.sin(6 * movement.clock(10, 100))[:, None]
    with pytest.raises(ValueError, match="plane"):
        draw_path(observe(Trace(movement.clock(10, 100), swing, [Channel("y", "position", "y")])))

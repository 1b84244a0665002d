"""Columns whose names do not say what they are: gravity tells, an answer does, or one question is asked."""

import numpy as np

from tempo_coach.observe.trace.tables import parse_trace
from tempo_coach.report.words.reasons import say_reason
from tests.observe.trace.test_tables import TIME, table
from tests.refused import refused


def pulled(scale: float = 1.0) -> list[np.ndarray]:
    turn = 7 * TIME
    return [scale * np.sin(turn), scale * 0.4 * np.cos(turn), 9.80665 + scale * 0.5 * np.sin(turn)]


def test_gravity_shows_a_wrong_unit_and_what_was_asked_for_stands() -> None:
    header = "time,ax_g,ay_g,az_g"
    wrong = parse_trace(table(header, TIME, *pulled()))
    assert any("by gravity they are in m/s²" in note for note in map(say_reason, wrong.notes))
    np.testing.assert_allclose(wrong.values[:, 2], pulled()[2], atol=1e-5)
    asked = parse_trace(table(header, TIME, *pulled()), units={"acceleration": "g"})
    assert any("read as --unit says" in note for note in map(say_reason, asked.notes))
    np.testing.assert_allclose(asked.values[:, 2], 9.80665 * pulled()[2], atol=1e-4)
    # nothing is believed of readings without gravity, or of a club that is swung hard
    free = parse_trace(table("time,linear_acc_x_g,linear_acc_y_g,linear_acc_z_g", TIME, *pulled()))
    hard = parse_trace(table(header, TIME, *pulled(30.0)))
    assert not any("gravity" in note for note in map(say_reason, (*free.notes, *hard.notes)))


def test_positions_that_lie_a_metre_away_are_asked_for_and_not_taken_for_gravity() -> None:
    turn = 7 * TIME
    with refused(r"nothing says what x, y and z are .x from .*100 readings a second.*position=m"):
        parse_trace(table("time,x,y,z", TIME, 0.4 * np.cos(turn), 0.1 * np.sin(turn), 1 + 0.4 * np.sin(turn)))

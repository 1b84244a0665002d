"""Words for steps of tempo: each move has its sentence, and numbers agree with their nouns."""

import pytest

from tempo_coach.pattern.drill.drill import TempoChange, TempoStep, TempoSteps
from tempo_coach.report.words.live import say_rule, say_step


@pytest.mark.parametrize(
    ("step", "said"),
    [
        (TempoStep(TempoChange.UP, 104.0, 2), "2 steady takes in a row: up to 104."),
        (TempoStep(TempoChange.UP, 102.46, 1), "A steady take: up to 102.5."),
        (TempoStep(TempoChange.HIGHEST, 102.0, 2), "2 steady takes in a row: 102 is the highest already."),
        (TempoStep(TempoChange.DOWN, 96.0), "That one was not steady: down to 96."),
        (TempoStep(TempoChange.LOWEST, 98.0), "That one was not steady: 98 is the lowest already."),
        (TempoStep(TempoChange.STAY, 100.0, 2), "Stay at 100: 2 more steady ones to go up."),
        (None, ""),
    ],
)
def test_each_move_of_the_tempo_is_said(step: TempoStep | None, said: str) -> None:
    assert say_step(step) == said


def test_the_rule_of_one_take_and_no_rule_are_said() -> None:
    assert say_rule(TempoSteps(60, 120, steady_takes=1)).startswith("Up 4 after a steady take, ")
    assert say_rule(None) == ""

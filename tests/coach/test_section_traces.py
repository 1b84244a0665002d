"""A trace of a run-through: each section is another movement, followed by itself."""

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.errors import CoachError
from tempo_coach.music.counts.count_map import Position
from tempo_coach.observe.trace.trace import cut
from tempo_coach.pattern.routine.routine import Laid
from tempo_coach.reasons import Why
from tests.generators.movement import positions
from tests.pattern.routine.test_run_through import lay
from tests.refused import refused

#: One club in circles of a second, then the rope's uneven ones by the same hand.
PLAN = lay(Laid("clubs_mills", Position(3, 1.0), 2, "right"), Laid("rope_figure_eight", Position(6, 1.0), 4, "right"))
LATE = 0.04


def lateness(placed):
    """How late the onset nearest to each moment is."""
    onsets = placed.take.onsets.time
    return np.array([onsets[np.abs(onsets - at).argmin()] - at for at in PLAN.moments.time])


def circles(late=LATE):
    """A point that is low on every moment, so much late in the second section, and still between the two."""
    time = np.arange(0.0, PLAN.duration + 2, 0.01)
    asked = PLAN.moments.time + np.where(PLAN.moments.cycle >= PLAN.sections[1].first_cycle, late, 0.0)
    first = PLAN.moments.cycle < PLAN.sections[1].first_cycle
    step = np.diff(asked[first])[0]
    knots = np.concatenate([[asked[0] - step], asked[first], [asked[first][-1] + step], asked[~first]])
    knots = np.insert(knots, first.sum() + 2, asked[~first][0] - 0.4)
    turn = np.concatenate([np.arange(first.sum() + 2), [first.sum() + 1], first.sum() + 2 + np.arange((~first).sum())])
    angle = 2 * np.pi * np.interp(time, knots, turn)
    return positions(time, np.column_stack([np.sin(angle), -np.cos(angle)]))


def test_each_section_is_followed_by_itself_and_judged_by_itself():
    told = []
    placed = coach.place_trace(circles(), PLAN, clap=(0.0, 0.0), warn=told.append)
    late = lateness(placed)
    second = PLAN.moments.cycle >= PLAN.sections[1].first_cycle
    assert np.abs(late[~second]).max() < 0.01 and np.median(late[second]) == pytest.approx(LATE, abs=0.02)
    mills, rope = coach.judge_placed(placed).sections
    assert mills.answered == mills.asked == (~second).sum() and rope.answered == rope.asked == second.sum()
    assert mills.kind == "in_time"


def test_without_a_clock_nobody_guesses_where_it_lies():
    with refused("placed on its clock"):
        coach.place_trace(circles(), PLAN)


def test_a_section_that_the_trace_does_not_show_is_told_and_the_others_are_judged():
    told = []
    first = PLAN.moments.cycle < PLAN.sections[1].first_cycle
    part = cut(circles(), 0.0, float(PLAN.moments.time[first][-1]) + 1)
    placed = coach.place_trace(part, PLAN, clap=(0.0, 0.0), warn=told.append)
    assert Why.SECTION_UNSEEN in [each.code for each in told]
    assert len(placed.take.plan.moments) == len(PLAN.moments) and np.abs(lateness(placed)[first]).max() < 0.01
    assert placed.take.onsets.time.max() < PLAN.moments.time[~first][0]
    with pytest.raises(CoachError):
        coach.place_trace(cut(circles(), 0.0, 0.5), PLAN, clap=(0.0, 0.0))

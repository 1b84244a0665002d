"""What a drill teaches beside what a take shows: exact where the take was made so."""

import json
import math

import pytest

from tempo_coach import coach
from tempo_coach.report.words.comparison import comparison_to_dict, format_comparison
from tempo_coach.score.trace.study import study
from tests.generators import movement


@pytest.fixture(scope="module")
def rope():
    return study(movement.rope(2).trace)


def test_the_ropes_circles_are_told_in_per_cent_and_counts(rope):
    # taught one while low and two while high; a good take has them at 0, 41 and 62 % (common practice)
    drill = coach.load_drill("rope_figure_eight")
    plain = json.loads(json.dumps(comparison_to_dict(drill, rope), allow_nan=False))
    assert (plain["drill"], plain["cycle_counts"]) == ("rope_figure_eight", 4)
    assert (plain["lag_asked_deg"], plain["lag_deg"]) == (None, None)
    for row, at in zip(plain["moments"], (0.0, 0.41, 0.62), strict=True):
        assert (row["done"] - at + 0.5) % 1 - 0.5 == pytest.approx(0, abs=0.01)
        off = (row["done"] - row["taught"] + 0.5) % 1 - 0.5
        assert row["off_counts"] == pytest.approx(4 * off, abs=2e-3)
        assert row["off_ms"] == pytest.approx(1000 * off * plain["period_s"], abs=1)
    lines = format_comparison(drill, rope).splitlines()
    assert lines[0].startswith(f"{drill.title}: 4 counts; this take: cycles of {plain['period_s']:.3f} s")
    assert len(lines) == 4
    for line, row in zip(lines[1:], plain["moments"], strict=True):
        assert f"taught at {100 * row['taught']:.0f} %, done at {round(100 * row['done']) % 100} %" in line
        assert line.endswith(f"{abs(row['off_counts']):.2f} counts {'late' if row['off_counts'] > 0 else 'early'}")


def test_what_is_not_done_and_what_nobody_asked_for_is_said(rope):
    more = format_comparison(coach.load_drill("rope_wrap_release"), rope)
    assert "not done" in more
    fewer = comparison_to_dict(coach.load_drill("ball_figure_eight"), rope)
    (extra,) = (row for row in fewer["moments"] if row["taught"] is None)
    assert extra["off_counts"] is extra["off_ms"] is None
    assert "not asked for, done at" in format_comparison(coach.load_drill("ball_figure_eight"), rope)


@pytest.mark.parametrize("lag", [0.5, 0.25])
def test_the_lag_of_the_clubs_is_set_beside_the_one_that_is_taught(lag):
    found = study(movement.mills(6, lag=lag, n=30).trace)
    drill = coach.load_drill("clubs_mills")
    plain = comparison_to_dict(drill, found)
    assert plain["lag_asked_deg"] == 180
    assert math.cos(math.radians(plain["lag_deg"] - 360 * lag)) > 0.99
    assert format_comparison(drill, found).splitlines()[-1].endswith("°, 180° are taught")

"""The levels at which something repeats are found, each with its evidence."""

import json

import numpy as np
import pytest

from tempo_coach.observe.trace.period_candidates import Candidate, PeriodAnalysis, find_active, find_candidates
from tempo_coach.observe.trace.resampling import Resampled


def resampled(*columns: np.ndarray, step: float = 0.02) -> Resampled:
    values = np.column_stack(columns)
    return Resampled(0.0, step, values, np.ones(len(values), dtype=bool))


def near(candidates: list[Candidate], period: float) -> Candidate:
    return min(candidates, key=lambda candidate: abs(np.log(candidate.period / period)))


TIME = np.arange(0, 30, 0.02)


def unequal_circles() -> Resampled:
    """Three circles of .41, .41 and .18 s that come again every second."""
    ends = np.concatenate([[0.0], np.cumsum(np.tile([0.41, 0.41, 0.18], 31))])
    phase = np.interp(TIME, ends, np.arange(ends.size))
    return resampled(np.cos(2 * np.pi * phase), np.sin(2 * np.pi * phase))


def test_a_plain_circle_is_wholly_alike_after_each_turn() -> None:
    found = find_candidates(
        PeriodAnalysis(resampled(np.cos(2 * np.pi * TIME), np.sin(2 * np.pi * TIME)), 2), 0.14, 12.0
    )
    turn = near(found, 1.0)
    assert turn.period == pytest.approx(1.0, rel=0.003)
    assert turn.similarity > 0.99 and turn.relative > 0.99 and turn.share > 0.99


def test_unequal_circles_resemble_one_another_and_come_again_whole_only_after_all_of_them() -> None:
    found = find_candidates(PeriodAnalysis(unequal_circles(), 1), 0.14, 12.0)
    whole = near(found, 1.0)
    assert whole.period == pytest.approx(1.0, rel=0.01) and whole.similarity > 0.95 and whole.relative > 0.95
    assert max(candidate.relative * candidate.similarity for candidate in found if candidate.period < 0.6) < 0.8


def test_periods_are_plain_numbers_whatever_proposed_them_so_that_json_takes_what_is_told_of_them() -> None:
    found = find_candidates(PeriodAnalysis(unequal_circles(), 1), 0.14, 12.0)
    assert json.dumps([each.period < 1.0 for each in found])  # those of the spectrum's lines were numpy's


def test_small_circles_in_a_big_one_leave_out_what_carries_them() -> None:
    big, small = 2 * np.pi * TIME / 2.0, 2 * np.pi * TIME / 0.5
    path = resampled(np.cos(big) + 0.3 * np.cos(small), np.sin(big) + 0.3 * np.sin(small))
    found = find_candidates(PeriodAnalysis(path, 2), 0.14, 12.0)
    inner, outer = near(found, 0.5), near(found, 2.0)
    assert inner.period == pytest.approx(0.5, rel=0.01) and outer.period == pytest.approx(2.0, rel=0.01)
    # of the way the small ones are .3² / (1 + .3²) = .083, in their own band nothing else is seen
    assert inner.share_plain == pytest.approx(0.083, abs=0.02)
    assert outer.share_plain > 0.99


def test_a_straight_line_shows_no_level_at_all() -> None:
    assert find_candidates(PeriodAnalysis(resampled(3 * TIME, 7 - TIME), 2), 0.14, 12.0) == []


def test_noise_has_no_level_that_is_alike() -> None:
    rng = np.random.default_rng(3)
    found = find_candidates(PeriodAnalysis(resampled(*rng.standard_normal((2, TIME.size))), 0), 0.14, 12.0)
    assert max((candidate.similarity for candidate in found if candidate.period < 5), default=0.0) < 0.5


@pytest.mark.parametrize("order", [0, 1, 2])
def test_a_still_start_and_end_are_not_active(order: int) -> None:
    moving = (TIME > 6) & (TIME < 24)
    active = find_active(np.where(moving, np.sin(2 * np.pi * (TIME - 6)), 0)[:, None], 0.02, order)
    assert not active[TIME < 5].any() and not active[TIME > 25].any()
    assert active[(TIME > 7) & (TIME < 23)].all()


def test_a_short_record_is_active_throughout() -> None:
    assert find_active(np.zeros((100, 1)), 0.02, 2).all()

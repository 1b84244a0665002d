"""A trace finds its place on the take clock."""

import numpy as np
import pytest

from tempo_coach.observe.trace.trace_take import place_by_event, place_by_fit
from tempo_coach.reasons import Why
from tests.refused import refused

UNEVEN = np.cumsum([0.5, 0.8, 0.5, 0.9, 0.4, 0.8, 0.5, 0.7, 0.9, 0.5])


def test_a_clap_that_both_saw_gives_the_offset() -> None:
    placing = place_by_event(12.5, 3.25)
    assert placing.offset == -9.25
    assert placing.confidence == 1


def test_the_best_fit_finds_an_uneven_rhythm_and_is_sure() -> None:
    rng = np.random.default_rng(1)
    placing = place_by_fit([(UNEVEN, UNEVEN - 7.3 + 0.01 * rng.standard_normal(UNEVEN.size))])
    assert placing.offset == pytest.approx(7.3, abs=0.01)
    assert placing.confidence > 0.6


def test_a_missing_and_an_extra_event_do_not_move_it() -> None:
    events = np.sort(np.append(np.delete(UNEVEN, 3), 2.4))
    assert place_by_fit([(UNEVEN, events + 2)]).offset == pytest.approx(-2, abs=0.01)


def test_even_circles_fit_at_every_cycle_and_this_is_told() -> None:
    moments = np.arange(40) * 0.6
    placing = place_by_fit([(moments, np.arange(36) * 0.6 + 100)])
    assert placing.confidence < 0.5
    assert placing.next_best is not None
    assert (placing.offset + 100) / 0.6 == pytest.approx(round((placing.offset + 100) / 0.6), abs=0.02)


def test_two_or_fewer_cannot_be_fitted() -> None:
    with refused("three"):
        place_by_fit([(np.array([0.0, 1.0]), UNEVEN)])


def test_two_hands_are_fitted_together_and_apart() -> None:
    # half a step apart: mixed, each would fit as well in the place of the other
    other = UNEVEN + 0.25
    placing = place_by_fit([(UNEVEN, UNEVEN - 3), (other, other - 3)])
    assert placing.offset == pytest.approx(3, abs=0.01)
    assert placing.doubt is None


def test_doubt_is_said_with_the_other_place() -> None:
    placing = place_by_fit([(np.arange(40) * 0.6, np.arange(36) * 0.6)])
    assert placing.doubt.code is Why.AMBIGUOUS_FIT


def test_a_long_take_is_placed_as_a_short_one_is() -> None:
    # ten minutes of circles that vary by 2 %, the events beginning in the middle of it
    rng = np.random.default_rng(0)
    moments = np.cumsum(0.6 * (1 + 0.02 * rng.standard_normal(1000)))
    placing = place_by_fit([(moments, moments[300:700] - 50), (moments + 0.3, moments[300:700] + 0.3 - 50)])
    assert placing.offset == pytest.approx(50, abs=0.01)

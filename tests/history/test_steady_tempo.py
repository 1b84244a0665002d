"""The tempo up to which takes are steady: exact values, an independent regression, and how often the interval holds."""

import math
import re

import numpy as np
import pytest
import scipy.optimize

from tempo_coach.history.steady_tempo import find_steady_tempo, interval_of_tempo, pool_falling
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.pages.athlete import draw_tempo
from tempo_coach.report.words.history import progress_to_dict, tell_tempo
from tests.history.season import row


def tempi(*groups):
    return [
        row(begun=f"2031-05-01T10:{k % 60:02d}", tempo_bpm=float(bpm), steady=k < steady)
        for bpm, steady, takes in groups
        for k in range(takes)
    ]


def test_the_tempo_at_which_four_of_five_are_steady():  # exact: 1.0 at 100, 0.6 at 110: 0.8 lies in the middle
    found = find_steady_tempo(tempi((90, 5, 5), (100, 5, 5), (110, 3, 5), (120, 1, 5)))
    assert found.bpm == pytest.approx(105)
    assert "up to 105 beats a minute" in tell_tempo(found)
    pooled = find_steady_tempo(tempi((90, 5, 5), (100, 4, 5), (110, 5, 5), (120, 0, 5)))
    assert [share[3] for share in pooled.shares] == pytest.approx([1, 0.9, 0.9, 0])
    assert pooled.bpm == pytest.approx(110 + 10 / 9)


def test_a_steady_tempo_that_cannot_be_told_has_its_reason():
    for groups, said in (
        ([(100, 5, 5)], Reason(Why.FEW_TAKES, (10, 3, 5, 1))),
        ([(90, 5, 5), (100, 5, 5), (110, 5, 5)], Reason(Why.FASTEST_STEADY, (110,))),
        ([(90, 1, 5), (100, 0, 5), (110, 0, 5)], Reason(Why.SLOWEST_TOO_FAST, (90,))),
    ):
        found = find_steady_tempo(tempi(*groups))
        assert math.isnan(found.bpm)
        assert found.reason == said
    assert math.isnan(find_steady_tempo([]).bpm)


def test_pooling_is_scipy_s_isotonic_regression():  # scipy.optimize, an independent implementation
    generator = np.random.default_rng(4)
    for _ in range(30):
        values, weights = generator.uniform(0, 1, 9), generator.uniform(0.5, 5, 9)
        theirs = scipy.optimize.isotonic_regression(values, weights=weights, increasing=False).x
        assert pool_falling(values, weights) == pytest.approx(theirs)


@pytest.mark.parametrize("takes", [4, 16])
@pytest.mark.parametrize("width", [3.0, 8.0])
def test_the_interval_holds_the_tempo_as_often_as_it_says(width, takes):
    """Takes that are steady with a chance that falls as a logistic curve, 0.8 at 104 beats a minute."""
    generator = np.random.default_rng(7)
    tempi = np.arange(80.0, 131.0, 10.0)
    chance = 1 / (1 + np.exp((tempi - 104 - width * math.log(4)) / width))
    held, widths = 0, []
    for _ in range(300):
        steady = generator.binomial(takes, chance).astype(float)
        low, high = interval_of_tempo(tempi, steady, np.full(6, float(takes)))
        held += low <= 104 <= high
        widths.append(high - low)
    assert 0.90 <= held / 300 <= 0.995
    assert np.mean(widths) < 10 + 60 * width / 8 / math.sqrt(takes)


def test_more_takes_tell_it_closer():
    few = find_steady_tempo(tempi((90, 5, 5), (100, 5, 5), (110, 3, 5), (120, 0, 5)))
    many = find_steady_tempo(tempi((90, 40, 40), (100, 40, 40), (110, 24, 40), (120, 0, 40)))
    assert few.low < many.low <= many.bpm <= many.high < few.high
    assert many.high - many.low < 6


def test_an_interval_that_reaches_the_tempi_tried_says_so():
    found = find_steady_tempo(tempi((90, 4, 4), (100, 3, 4), (110, 3, 4), (120, 3, 4), (130, 2, 4)))
    assert found.high == 130
    assert re.search(r"\(95 %: between \d+( or less)? and 130 or more\)", tell_tempo(found))


def test_the_interval_is_in_the_plain_values_and_in_the_picture():
    rows = tempi((90, 5, 5), (100, 5, 5), (110, 3, 5), (120, 0, 5))
    low, high = progress_to_dict(rows)["steady_tempo"]["ci95"]
    assert 90 < low < 105 < high < 120
    assert 'class="l0 arc"' in draw_tempo(find_steady_tempo(rows))
    short = tempi((90, 1, 5))
    assert progress_to_dict(short)["steady_tempo"]["ci95"] is None

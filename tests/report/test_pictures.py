"""The pictures of a take: every mark where its number is."""

import numpy as np
import pytest

from tempo_coach.observe.onsets import Onsets, Take
from tempo_coach.report.pictures import draw_asynchrony, draw_periods, draw_places, find_places
from tempo_coach.score.card import judge
from tests.history.season import lay
from tests.report.pages import marks


def card_of(offs=0.0, **options):
    plan = lay(**options)
    return judge(Take(plan, Onsets.unsorted((plan.moments.time + offs).tolist(), plan.moments.hand)))


def test_a_period_lies_where_it_should():
    plan = lay(cycles=8, drill="rope_figure_eight", cues="all")
    moments = plan.moments
    late = np.where(moments.cycle >= 4, 0.3, 0.0)  # the fourth cycle is 0.3 s long: 12.5 % of 2.4 s
    svg = draw_periods(judge(Take(plan, Onsets.unsorted((moments.time + late).tolist(), moments.hand))))
    heights = [float(mark["cy"]) for mark in marks(svg)]
    assert len(heights) == 7
    assert int(np.argmin(heights)) == 3  # up is longer
    assert len(set(np.delete(heights, 3))) == 1
    assert len(marks(svg, css="ring")) == 1


def test_early_is_below_and_late_above_and_missed_is_crossed():
    plan = lay(cues="all")
    moments = plan.moments
    off = np.where(moments.cycle % 2 == 0, 0.05, -0.05)
    keep = np.arange(len(moments)) != 5
    hands = [hand for hand, kept in zip(moments.hand, keep, strict=True) if kept]
    svg = draw_asynchrony(judge(Take(plan, Onsets.unsorted((moments.time + off)[keep].tolist(), hands))))
    right = [float(mark["cy"]) for mark in marks(svg)]
    assert len(right) == 8
    assert max(right[0::2]) < min(right[1::2])  # up is late
    assert svg.count('class="cross"') == 1


def test_places_on_the_cycle_are_asked_plus_what_was_late():  # exact
    card = card_of(0.12, cues="all")  # a cycle is 1.2 s: a tenth of it
    places = {place.hand: place for place in find_places(card)}
    assert places["right"].place - places["right"].asked == pytest.approx(0.1)
    assert places["left"].place - places["left"].asked == pytest.approx(0.1)
    assert places["right"].sd == pytest.approx(0, abs=1e-9)
    assert draw_places(card).count('class="asked"') == 2

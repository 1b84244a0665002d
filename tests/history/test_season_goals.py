"""A season as columns, and goals that are judged by no more than the takes carry."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from tempo_coach.history.season import Goal, Outlook, Season, judge_goal, season_of, weeks_back
from tempo_coach.reasons import Why
from tests.history.season import row

TODAY = date(2031, 5, 20)


def season(pct, *, tempo=100.0, cued=0.3, until=TODAY):
    pct = np.asarray(pct, dtype=np.float64)
    n = len(pct)
    days = until.toordinal() - np.arange(n, dtype=np.float64)[::-1]
    same = [np.full(n, each) for each in (tempo, cued)]
    return Season(("mills",), np.zeros(n, dtype=np.int64), days, *same, pct, np.full(n, 8.0), pct < 4.5)


def goal(weeks=6, **changes):
    return Goal(
        **{"drill": "mills", "on": TODAY + timedelta(weeks=weeks), "tempo_bpm": 100.0, "cues": "ones", **changes}
    )


@pytest.mark.parametrize(
    ("pct", "outlook"),
    [
        ([2.5] * 20, Outlook.ON_THE_WAY),
        ([8.0] * 40, Outlook.NOT),
        ([2.5] * 3, Outlook.CANNOT_TELL),
        ([math.nan] * 20, Outlook.CANNOT_TELL),
        ([], Outlook.CANNOT_TELL),
        ([5.3, 4.9] * 4, Outlook.CANNOT_TELL),
    ],
)
def test_a_goal_is_on_the_way_or_not_or_it_cannot_be_told(pct, outlook):
    verdict = judge_goal(season(pct), goal(), today=TODAY)
    assert verdict.outlook is outlook
    assert (verdict.reason is not None) is (outlook is Outlook.CANNOT_TELL)


def test_why_it_cannot_be_told():
    assert judge_goal(season([4.0] * 3), goal(), today=TODAY).reason == (Why.FEW_DAYS, (4, 3))
    assert judge_goal(season([5.3, 4.9] * 4), goal(), today=TODAY).reason == (Why.EITHER_WAY, ())


def test_what_is_over_is_over_and_takes_of_later_days_say_nothing():
    assert judge_goal(season([2.5] * 20), goal(-1), today=TODAY).outlook is Outlook.OVER
    later = season([2.5] * 20, until=TODAY + timedelta(days=30))
    assert judge_goal(later, goal(), today=TODAY).outlook is Outlook.CANNOT_TELL


def test_a_tempo_far_beyond_what_was_tried_is_not_promised():
    at_hers, far = (judge_goal(season([3.6] * 20), goal(tempo_bpm=t), today=TODAY) for t in (100, 150))
    assert at_hers.outlook is Outlook.ON_THE_WAY
    assert far.chance < at_hers.chance and far.outlook is not Outlook.ON_THE_WAY


def test_a_goal_is_even_as_her_own_takes_are_called_even():
    # the same unevenness, but her card called few of these steady: they left the tempo, say
    pct = np.tile([3.9, 4.1, 4.3], 8)
    usual = season(pct)
    strict = replace(usual, steady=pct < 4.0)
    assert 4.3 < usual.limit("mills").pct < 4.9 and 3.8 < strict.limit("mills").pct < 4.1
    assert judge_goal(strict, goal(), today=TODAY).chance < judge_goal(usual, goal(), today=TODAY).chance - 0.1
    assert 4.1 < usual.limit("nothing").pct < 4.5  # until her takes tell


def test_weeks_lead_back_from_the_day_in_even_steps():
    weeks = weeks_back(goal(4, tempo_bpm=112), today=TODAY, tempo_bpm=100, cues="all")
    assert [week.left for week in weeks] == [3, 2, 1, 0]
    assert [week.tempo_bpm for week in weeks] == [104, 108, 112, 112]
    assert [week.cues for week in weeks] == ["all", "alternate", "ones", "ones"]
    assert weeks[0].begins == TODAY
    assert weeks_back(goal(0), today=TODAY, tempo_bpm=100, cues="all") == ()
    assert weeks_back(goal(-3), today=TODAY, tempo_bpm=100, cues="all") == ()
    # whoever is faster or does with less already does not go back
    assert {week.tempo_bpm for week in weeks_back(goal(2), today=TODAY, tempo_bpm=120, cues="none")} == {120}


def test_rows_become_columns():
    rows = [
        row(begun="2031-05-04T18:15:00", drill="a", cues="ones", period_cv_pct=5.0, scatter_pct=3.5),
        row(begun="2031-05-06T18:15:00", drill="b", cues="", scatter_pct=math.nan, steady=False),
    ]
    made = season_of(rows)
    assert made.drills == ("a", "b") and made.drill.tolist() == [0, 1]
    assert np.diff(made.day).tolist() == [2]
    # by what steadiness goes by; a take that an older version kept has its periods alone
    assert made.uneven_pct.tolist() == [3.5, 3.0]
    assert made.cued.tolist() == [0.3, 0.5] and made.steady.tolist() == [True, False]
    assert len(season_of([])) == 0


def test_columns_of_other_lengths_are_refused():
    with pytest.raises(ValueError, match="expected columns of 1"):
        Season(("a",), np.zeros(1, dtype=np.int64), *(np.zeros(2) for _ in range(5)), np.zeros(2, dtype=np.bool_))

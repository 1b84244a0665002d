"""Members by eights, and all of them away from the music together."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.pattern.plan.every_count import lay_every_count
from tempo_coach.report.words.group import format_group
from tempo_coach.report.words.group_sentence import tell_group
from tempo_coach.score.group.group import measure_group

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.score.group.card import GroupCard

NAMES = ("Ada", "Bea", "Cyl", "Dora", "Eva")
PLAN = lay_every_count(CountMap.steady(120), end=31.9, tempo_bpm=120)


def perform() -> NDArray[np.float64]:
    """Five people who scatter by 12 ms, each moment by itself."""
    return 0.012 * np.random.default_rng(5).standard_normal((5, len(PLAN.moments)))


def judge(asynchronies: NDArray[np.float64]) -> GroupCard:
    return measure_group(NAMES, asynchronies, PLAN)


def test_an_eight_in_which_one_is_late_stands_in_her_row_alone() -> None:
    group = perform()
    group[4, 16:24] += 0.2
    card = judge(group)
    away = [(one.member, one.eight) for one in card.by_eight if one.away]
    assert away == [("Eva", 3)]
    cell = next(one for one in card.by_eight if (one.member, one.eight) == ("Eva", 3))
    others = np.median(group[:4, 16:24], axis=0)
    assert cell.offset == pytest.approx(float((group[4, 16:24] - others).mean()))
    assert cell.spread == pytest.approx(float((group[4, 16:24] - others).std(ddof=1)))
    assert cell.n == 8
    means = group[:4, 16:24].mean(axis=1)
    assert card.left[0].others == pytest.approx(float(np.ptp(means)))
    assert card.left[0].back
    assert "Eva, eight 3 counts 1 to 8, " in tell_group(card)
    assert "the others are together within " in tell_group(card)
    assert max(map(len, format_group(card).splitlines())) <= 80


def test_who_stays_away_to_the_end_did_not_come_back() -> None:
    group = perform()
    group[1, -10:] += 0.25
    card = judge(group)
    assert [one.member for one in card.left] == ["Bea"]
    assert not card.left[0].back
    assert "did not come back" in tell_group(card)


def test_all_who_leave_the_music_together_are_told_so_and_nobody_is_named() -> None:
    group = perform()
    group[:, 32:40] += 0.08
    card = judge(group)
    assert [one.eight for one in card.wandered] == [5]
    assert card.wandered[0].offset == pytest.approx(0.08, abs=0.015)
    assert not card.left
    assert "eight 5" in tell_group(card)
    assert not [name for name in NAMES if name in tell_group(card)]


@pytest.mark.parametrize("away", [0, 1, 2])
def test_two_of_five_do_not_take_the_group_with_them(away: int) -> None:
    group = perform()
    group[:away, 32:40] += 0.15
    assert judge(group).wandered == ()


def test_a_member_who_did_nothing_has_empty_cells() -> None:
    group = perform()
    group[2] = np.nan
    cells = [one for one in judge(group).by_eight if one.member == "Cyl"]
    assert all(math.isnan(one.offset) and one.n == 0 and not one.away for one in cells)


def test_two_members_are_too_few_to_say_that_all_wander() -> None:
    group = perform()[:2]
    group[:, 32:40] += 0.2
    card = measure_group(NAMES[:2], group, PLAN)
    assert card.wandered == ()

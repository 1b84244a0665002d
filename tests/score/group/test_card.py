"""A group's card: what it says of a pair."""

import math

import pytest

from tempo_coach.score.group.card import GroupCard, Pair


@pytest.mark.parametrize("follows", [True, False, None])
def test_who_follows_is_told_over_all_pairs_and_not_by_one_interval(follows):
    pair = Pair("Ada", "Bea", 0.5, 30, 0.1, 0.9, {}, follows)
    card = GroupCard((), math.nan, math.nan, math.nan, math.nan, (), (pair,), {})
    assert card.to_dict()["pairs"][0]["follows"] is follows

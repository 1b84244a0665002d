"""What a group's card says of a pair."""

import pytest

from tempo_coach.score.group_card import Pair


@pytest.mark.parametrize(("low", "follows"), [(0.01, True), (0.0, False), (-0.1, False)])
def test_someone_follows_where_the_whole_interval_lies_above_nothing(low, follows):
    assert Pair("Ada", "Bea", 0.5, 30, low, 1 - low, {}).follows is follows

"""Of several levels the one at which everything repeats is the cycle."""

from dataclasses import replace

import numpy as np
import pytest

from tempo_coach.observe.trace.deciding import decide, decide_near
from tempo_coach.observe.trace.levels import Level

PLAIN = Level(1.0, 0.95, 1.0, 0.98, 0.9, 0.5, 0.95, 1.0)


def level(period: float, **values: float) -> Level:
    return replace(PLAIN, period=period, **values)


def test_one_level_alone_is_the_cycle_and_sure() -> None:
    found = decide([PLAIN], 30.0)
    assert found is not None and found.level is found.inner is PLAIN
    assert found.confidence > 0.9 and found.others == ()


def test_of_a_cycle_and_its_double_the_shorter_is_chosen() -> None:
    one, two = level(1.0, likeness=0.95), level(2.0, likeness=0.96)
    found = decide([one, two], 30.0)
    assert found is not None and found.level is one


def test_a_level_that_comes_again_better_after_a_longer_time_is_not_the_cycle() -> None:
    circles, cycle = level(0.33, own=0.6, likeness=0.57), level(1.0)
    found = decide([circles, cycle], 30.0)
    assert found is not None and found.level is cycle


def test_a_level_that_leaves_much_of_the_movement_out_is_not_the_cycle() -> None:
    small, whole = level(0.5, share=0.4), level(2.0)
    found = decide([small, whole], 30.0)
    assert found is not None and found.level is whole


def test_a_way_whose_bigger_circle_carries_the_small_ones_has_the_bigger_one_as_its_cycle() -> None:
    small = level(0.5, share_plain=0.08)
    big = level(2.0, share_plain=0.99, plain=0.97, own_plain=1.0)
    found = decide([small, big], 30.0, way=True)
    assert found is not None and found.level is big and found.inner is small and found.others == (0.5,)
    hidden = decide([small, big], 30.0)
    assert hidden is not None and hidden.level is small


def test_a_side_to_side_movement_has_both_sides_in_its_cycle() -> None:
    one, both = level(1.0, share=0.8), level(2.0, share=0.98)
    found = decide([one, both], 30.0)
    assert found is not None and found.level is both and found.others == (1.0,)


def test_circles_told_by_a_pattern_decide_between_levels() -> None:
    third, turn, whole = level(0.33, likeness=0.8, share=0.8), level(1.0, share=0.9), level(3.0)
    for circles, cycle in ((3, turn), (9, whole)):
        found = decide([third, turn, whole], 30.0, circles=circles)
        assert found is not None and found.level is cycle and found.inner is third


def test_an_overtone_of_a_circle_is_no_circle() -> None:
    overtone, turn, whole = level(0.33, share=0.02), level(1.0, share=0.9), level(3.0)
    found = decide([overtone, turn, whole], 30.0, circles=3)
    assert found is not None and found.level is whole and found.inner is turn


def test_circles_so_even_that_no_cycle_shows_are_counted_by_themselves() -> None:
    turn, three = level(0.5), level(1.5)
    found = decide([turn, three], 30.0, circles=3)
    assert found is not None and found.level is turn


def test_circles_that_no_pair_of_levels_has_leave_the_choice_as_it_is() -> None:
    found = decide([PLAIN], 30.0, circles=3)
    assert found is not None and found.level is PLAIN


@pytest.mark.parametrize("levels", [[], [level(1.0, likeness=0.2)], [level(20.0)], [level(1.0, share=0.1)]])
def test_nothing_that_repeats_is_no_decision(levels: list[Level]) -> None:
    assert decide(levels, 30.0) is None


def test_what_nearly_fits_is_told_and_makes_it_doubtful() -> None:
    alone, beside = decide([PLAIN], 30.0), decide([level(0.5, own=0.85, likeness=0.9), PLAIN], 30.0)
    assert alone is not None and beside is not None
    assert beside.level is PLAIN and beside.others == (0.5,)
    assert beside.confidence < 0.5 < alone.confidence


def test_few_cycles_are_less_sure() -> None:
    sure = [found.confidence for seconds in (3.0, 4.0, 6.0) if (found := decide([PLAIN], seconds)) is not None]
    assert len(sure) == 3 and np.all(np.diff(sure) > 0)


def test_near_a_period_that_is_told_the_likest_is_meant() -> None:
    found = decide_near([level(0.9, likeness=0.6), level(1.1)], 30.0, 0.4)
    assert found is not None and found.level.period == 1.1
    assert decide_near([level(1.0, likeness=0.3)], 30.0, 0.4) is None

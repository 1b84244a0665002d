"""Of several levels the one at which everything repeats is the cycle."""

from dataclasses import replace

import numpy as np
import pytest

from tempo_coach.observe.trace.cycle_choice import choose_cycle, choose_near
from tempo_coach.observe.trace.period_candidates import Candidate

PLAIN = Candidate(1.0, 0.95, 1.0, 0.98, 0.9, 0.5, 0.95, 1.0)


def candidate(period: float, **values: float) -> Candidate:
    return replace(PLAIN, period=period, **values)


def test_one_level_alone_is_the_cycle_and_sure() -> None:
    found = choose_cycle([PLAIN], 30.0)
    assert found is not None and found.candidate is found.inner is PLAIN
    assert found.confidence > 0.9 and found.others == ()


def test_of_a_cycle_and_its_double_the_shorter_is_chosen() -> None:
    one, two = candidate(1.0, similarity=0.95), candidate(2.0, similarity=0.96)
    found = choose_cycle([one, two], 30.0)
    assert found is not None and found.candidate is one


def test_a_level_that_comes_again_better_after_a_longer_time_is_not_the_cycle() -> None:
    circles, cycle = candidate(0.33, relative=0.6, similarity=0.57), candidate(1.0)
    found = choose_cycle([circles, cycle], 30.0)
    assert found is not None and found.candidate is cycle


def test_a_level_that_leaves_much_of_the_movement_out_is_not_the_cycle() -> None:
    small, whole = candidate(0.5, share=0.4), candidate(2.0)
    found = choose_cycle([small, whole], 30.0)
    assert found is not None and found.candidate is whole


def test_a_way_whose_bigger_circle_carries_the_small_ones_has_the_bigger_one_as_its_cycle() -> None:
    small = candidate(0.5, share_plain=0.08)
    big = candidate(2.0, share_plain=0.99, plain=0.97, relative_plain=1.0)
    found = choose_cycle([small, big], 30.0, is_position=True)
    assert found is not None and found.candidate is big and found.inner is small and found.others == (0.5,)
    hidden = choose_cycle([small, big], 30.0)
    assert hidden is not None and hidden.candidate is small


@pytest.mark.parametrize(("share", "alike", "period"), [(0.53, 0.94, 2.0), (0.56, 0.94, 1.0), (0.54, 0.88, 1.0)])
def test_who_hardly_carries_or_is_hardly_carried_is_doubtful(share: float, alike: float, period: float) -> None:
    """Two circles in one swing, and two turns of a club in one sway of the wrist, which is less even if she slips."""
    turn, sway = candidate(1.0, share_plain=share), candidate(2.0, share_plain=0.96, plain=alike)
    found = choose_cycle([turn, sway], 30.0, is_position=True)
    clear = choose_cycle([candidate(1.0, share_plain=0.65), sway], 30.0, is_position=True)
    assert found is not None and found.candidate.period == period and found.confidence < 0.5
    assert clear is not None and clear.candidate.period == 1.0 and clear.confidence > 0.9


def test_a_side_to_side_movement_has_both_sides_in_its_cycle() -> None:
    one, both = candidate(1.0, share=0.8), candidate(2.0, share=0.98)
    found = choose_cycle([one, both], 30.0)
    assert found is not None and found.candidate is both and found.others == (1.0,)


def test_circles_told_by_a_pattern_decide_between_levels() -> None:
    third, turn, whole = candidate(0.33, similarity=0.8, share=0.8), candidate(1.0, share=0.9), candidate(3.0)
    for circles, cycle in ((3, turn), (9, whole)):
        found = choose_cycle([third, turn, whole], 30.0, circles=circles)
        assert found is not None and found.candidate is cycle and found.inner is third


def test_an_overtone_of_a_circle_is_no_circle() -> None:
    overtone, turn, whole = candidate(0.33, share=0.02), candidate(1.0, share=0.9), candidate(3.0)
    found = choose_cycle([overtone, turn, whole], 30.0, circles=3)
    assert found is not None and found.candidate is whole and found.inner is turn


def test_circles_so_even_that_no_cycle_shows_are_counted_by_themselves() -> None:
    turn, three = candidate(0.5), candidate(1.5)
    found = choose_cycle([turn, three], 30.0, circles=3)
    assert found is not None and found.candidate is turn


def test_circles_that_no_pair_of_levels_has_leave_the_choice_as_it_is() -> None:
    found = choose_cycle([PLAIN], 30.0, circles=3)
    assert found is not None and found.candidate is PLAIN


@pytest.mark.parametrize(
    "candidates", [[], [candidate(1.0, similarity=0.2)], [candidate(20.0)], [candidate(1.0, share=0.1)]]
)
def test_nothing_that_repeats_is_no_decision(candidates: list[Candidate]) -> None:
    assert choose_cycle(candidates, 30.0) is None


def test_what_nearly_fits_is_told_and_makes_it_doubtful() -> None:
    alone, beside = (
        choose_cycle([PLAIN], 30.0),
        choose_cycle([candidate(0.5, relative=0.85, similarity=0.9), PLAIN], 30.0),
    )
    assert alone is not None and beside is not None
    assert beside.candidate is PLAIN and beside.others == (0.5,)
    assert beside.confidence < 0.5 < alone.confidence


def test_few_cycles_are_less_sure() -> None:
    sure = [found.confidence for seconds in (3.0, 4.0, 6.0) if (found := choose_cycle([PLAIN], seconds)) is not None]
    assert len(sure) == 3 and np.all(np.diff(sure) > 0)


def test_near_a_period_that_is_told_the_likest_is_meant() -> None:
    found = choose_near([candidate(0.9, similarity=0.6), candidate(1.1)], 30.0, 0.4)
    assert found is not None and found.candidate.period == 1.1
    assert choose_near([candidate(1.0, similarity=0.3)], 30.0, 0.4) is None

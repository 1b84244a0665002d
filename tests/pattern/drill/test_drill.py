"""Ways of practising: cues that thin out, steps of tempo, one hand alone."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach import coach
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.pattern.drill.drill import LEAST_THINNING, TempoChange, TempoSteps, way_of_cycle
from tempo_coach.pattern.plan.layout import lay_out
from tempo_coach.pattern.plan.plan import Plan
from tempo_coach.score.measures.parts import THINNED, WITH_CUES, WITHOUT_CUES, name_blocks
from tests.refused import refused


def lay(drill: str, **options: object) -> Plan:
    return coach.lay(coach.Request(drill, **options))  # type: ignore[arg-type]


# --- thinning -------------------------------------------------------------------------------------------------------


@given(st.integers(LEAST_THINNING, 200))
def test_cues_thin_out_in_four_blocks_in_order_and_the_last_is_the_longest(cycles: int) -> None:
    ways = [way_of_cycle("thinning", k, cycles)[0] for k in range(cycles)]
    assert list(dict.fromkeys(ways)) == ["all", "alternate", "ones", "none"]
    assert ways == sorted(ways, key=["all", "alternate", "ones", "none"].index)
    assert ways.count("none") == max(ways.count(way) for way in ways) >= 2


def test_the_block_without_cues_is_scored_apart() -> None:
    blocks = name_blocks(lay("rope_figure_eight", cycles=16, cues="thinning").moments)
    assert [blocks[k] for k in (0, 3)] == [WITH_CUES] * 2
    assert {blocks[k] for k in range(8, 12)} == {THINNED}
    assert {blocks[k] for k in range(12, 16)} == {WITHOUT_CUES}


def test_too_few_cycles_to_thin_out_are_refused_with_a_way_on() -> None:
    with refused("5 cycles or more, and there are 4"):
        lay("rope_figure_eight", cycles=4, cues="thinning")


# --- steps of tempo -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("results", "tempo"),
    [
        ([], 100),
        ([True], 100),
        ([True, True], 104),
        ([False], 96),
        ([True, False], 96),
        ([False, True], 100),
        ([True, True, True], 104),
    ],
)
def test_up_after_two_steady_takes_in_a_row_down_after_one_that_was_not(results: list[bool], tempo: float) -> None:
    assert TempoSteps(60, 120).after(100, results).tempo_bpm == tempo


def test_it_never_leaves_the_drills_own_tempi() -> None:
    steps = TempoSteps(98, 102)
    assert steps.after(100, [True, True]) == (TempoChange.UP, 102, 2) and steps.after(100, [False]) == (
        TempoChange.DOWN,
        98,
        0,
    )
    assert steps.after(102, [True, True]) == (TempoChange.HIGHEST, 102, 2)
    assert steps.after(98, [False]) == (TempoChange.LOWEST, 98, 0)


def test_what_is_missing_is_told() -> None:
    assert TempoSteps(60, 120).after(100, [True]) == (TempoChange.STAY, 100, 1)


@pytest.mark.parametrize("wrong", [{"lowest": 0}, {"highest": 50}, {"step": 0}, {"steady_takes": 0}])
def test_steps_that_make_no_sense_are_a_bug_of_the_caller(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="steps of tempo"):
        TempoSteps(**{"lowest": 60, "highest": 120, **wrong})  # type: ignore[arg-type]


@given(st.lists(st.booleans(), max_size=60))
def test_the_tempo_stays_within_its_bounds_whatever_the_takes_are(results: list[bool]) -> None:
    steps, tempo, row = TempoSteps(90, 110), 100.0, []
    for good in results:
        row.append(good)
        new = steps.after(tempo, row).tempo_bpm
        assert 90 <= new <= 110 and abs(new - tempo) <= steps.step
        if new != tempo:
            tempo, row = new, []


# --- one hand -------------------------------------------------------------------------------------------------------


def test_each_hand_is_a_drill_of_its_own_at_its_own_places() -> None:
    drill, counts = coach.load_drill("clubs_mills"), CountMap.steady(120)
    both = lay_out(drill, counts, tempo_bpm=120, cycles=6)
    for hand in ("right", "left"):
        alone = lay_out(drill.with_one_hand(hand), counts, tempo_bpm=120, cycles=6)
        assert alone.hands == (hand,)
        np.testing.assert_allclose(alone.moments.time, both.moments.time[both.moments.of_hand(hand)])


def test_a_hand_that_the_drill_does_not_have_is_said() -> None:
    with refused(r"expected one of its hands \(right, left\), got 'rope'"):
        coach.load_drill("clubs_mills").with_one_hand("rope")

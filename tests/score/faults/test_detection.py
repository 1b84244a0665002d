"""Which cycle broke: faults put into simulated lateness, at their place, with their size."""

import numpy as np
import pytest

from tempo_coach.score.faults.detection import MOST_FOR_TAILS, dearer_for_tails, find_faults
from tempo_coach.score.faults.likelihood import Likelihood
from tempo_coach.score.faults.models import MOMENT, RAMP, STEP, Layout, lay_shapes


def layout_of(cycles, places=(0.0, 0.35, 0.6)):
    position = np.add.outer(np.arange(cycles), np.array(places)).ravel()
    label = np.tile(np.arange(len(places)), cycles)
    return Layout(position, label), np.zeros(len(position), dtype=int)


def scatter(position, seed, *, clock=0.012, movement=0.01, correction=0.4):
    """Lateness of one who corrects, in cycles: an error of the clock a cycle, spread over it, and movements."""
    generator = np.random.default_rng(seed)
    inner = np.zeros(int(position.max()) + 50)
    for k in range(1, len(inner)):
        inner[k] = (1 - correction) * inner[k - 1] + generator.normal(0, clock)
    late = np.interp(position, np.arange(len(inner) - 48) + 0.0, inner[48:])
    return late + generator.normal(0, movement, len(position))


def long_cycle(position, number, by, kept):
    behind = np.maximum(position - number - 1, 0)
    return by * np.clip(position - number, 0, 1) * kept**behind


@pytest.mark.parametrize("kept", [1.0, 0.6])
@pytest.mark.parametrize("by", [0.2, -0.2])
def test_long_or_short_cycle_is_found_with_its_size(by, kept):
    layout, hand = layout_of(16)
    for seed in range(4):
        late = scatter(layout.position, seed) + long_cycle(layout.position, 6, by, kept)
        (fault,) = find_faults(layout, hand, late).faults
        assert (fault.kind, fault.cycle) == (RAMP, 6)
        assert fault.by == pytest.approx(by, abs=0.06)


@pytest.mark.parametrize("by", [0.12, -0.12])
def test_displaced_moment_is_found_with_its_size(by):
    layout, hand = layout_of(16)
    for seed in range(4):
        late = scatter(layout.position, seed)
        late[22] += by
        (fault,) = find_faults(layout, hand, late).faults
        assert (fault.kind, fault.cycle, fault.moment) == (MOMENT, 7, 22)
        assert fault.by == pytest.approx(by, abs=0.04)


@pytest.mark.parametrize("times", [1.0, 3.0])
def test_standard_error_of_a_step_is_how_far_its_size_is_off(times):
    """Half of normal errors lie within two thirds of an SD: the quartile of the normal distribution, in any table."""
    layout, hand = layout_of(16)
    after = np.arange(len(hand)) >= 22
    off, told = [], []
    for seed in range(12):
        late = times * (scatter(layout.position, seed, clock=0.006, movement=0.006) + 0.4 * after)
        fault = max(find_faults(layout, hand, late).faults, key=lambda each: abs(each.by))
        off.append(abs(fault.by - 0.4 * times))
        told.append(fault.by_sd)
    assert 0.4 < np.median(off) / 0.674 / np.median(told) < 2.0


def test_hesitation_is_a_step_and_what_follows_is_late():
    layout, hand = layout_of(16)
    for seed in range(4):
        late = scatter(layout.position, seed) + 0.3 * (np.arange(len(hand)) >= 22)
        (fault,) = find_faults(layout, hand, late).faults
        assert (fault.kind, fault.moment) == (STEP, 22)
        assert fault.by == pytest.approx(0.3, abs=0.05)


def test_good_takes_have_no_fault():
    layout, hand = layout_of(16)
    found = [len(find_faults(layout, hand, scatter(layout.position, seed)).faults) for seed in range(25)]
    assert sum(found) <= 1


def test_two_faults_are_both_found_and_the_rest_is_what_is_left():
    layout, hand = layout_of(20)
    plain = scatter(layout.position, 3)
    late = plain + long_cycle(layout.position, 5, 0.25, 1.0)
    late[45] -= 0.15
    explained = find_faults(layout, hand, late)
    assert [(fault.kind, fault.cycle) for fault in explained.faults] == [(RAMP, 5), (MOMENT, 15)]
    assert np.std(explained.rest) < 2 * np.std(plain)


def test_missed_moments_are_no_fault_and_hide_none():
    layout, hand = layout_of(16)
    late = scatter(layout.position, 5) + long_cycle(layout.position, 9, 0.25, 1.0)
    late[[4, 17, 29, 40]] = np.nan
    explained = find_faults(layout, hand, late)
    assert [(fault.kind, fault.cycle) for fault in explained.faults] == [(RAMP, 9)]
    assert np.isnan(explained.rest[[4, 17, 29, 40]]).all()
    assert np.isfinite(np.delete(explained.rest, [4, 17, 29, 40])).all()


def test_constant_lateness_offsets_and_a_tempo_of_ones_own_are_no_faults():
    layout, hand = layout_of(16)
    allowed = 0.4 + 0.03 * (layout.label == 1) + 0.01 * layout.position
    explained = find_faults(layout, hand, scatter(layout.position, 1) + allowed)
    assert not explained.faults
    assert explained.tempo.value == pytest.approx(0.01, abs=4 * explained.tempo.sd)
    assert explained.tempo.sd < 0.01
    assert explained.level.value == pytest.approx(allowed.mean(), abs=4 * explained.level.sd)


def test_drift_is_told_from_tempo():
    layout, hand = layout_of(24)
    since = layout.position
    explained = find_faults(layout, hand, scatter(since, 2) + 0.006 * since**2 / 2)
    assert explained.drift.value == pytest.approx(0.006, abs=0.003)
    assert explained.drift.is_beyond(3)
    assert not find_faults(layout, hand, scatter(since, 2)).drift.is_beyond(3)


def test_long_cycle_of_one_hand_is_told_of_it():
    position = np.sort(np.concatenate([np.arange(16), np.arange(16) + 0.5]))
    hand = np.arange(32) % 2
    layout = Layout(position, hand)
    late = scatter(position, 1, clock=0.006, movement=0.006)
    late += 0.25 * ((position >= 8) & (hand == 1))
    faults = find_faults(layout, hand, late).faults
    assert faults and {fault.hand for fault in faults} == {1}


def test_long_take_is_searched_in_stretches_and_told_in_its_own_cycles():
    layout, hand = layout_of(200)
    late = scatter(layout.position, 8)
    for number in (3, 77, 150, 198):
        late += long_cycle(layout.position, number, 0.25, 0.6)
    found = [fault.cycle for fault in find_faults(layout, hand, late).faults if fault.kind == RAMP]
    assert {3, 77, 150, 198} <= set(found) and len(found) <= 6


@pytest.mark.parametrize("known", [0, 1, 3])
def test_too_few_moments_show_nothing(known):
    layout, hand = layout_of(3)
    late = np.where(np.arange(9) < known, 0.1, np.nan)
    explained = find_faults(layout, hand, late)
    assert not explained.faults and not explained.level.is_beyond(0.1)


def test_larger_faults_are_surer():
    layout, hand = layout_of(16)
    gains = []
    for by in (0.12, 0.2, 0.3):
        (fault,) = find_faults(
            layout, hand, scatter(layout.position, 1) + long_cycle(layout.position, 6, by, 1.0)
        ).faults
        gains.append(fault.gain)
    assert min(gains[1:]) > gains[0] > 0


def test_shapes_of_one_cycle_have_odds_of_one_together():  # exact
    layout, hand = layout_of(5)
    shapes = lay_shapes(layout, hand)
    assert np.exp(shapes.log_prior).sum() == pytest.approx(5)
    ramps = shapes.shape[(shapes.kind == RAMP) & (shapes.kept == 1)]
    assert ramps.min() == 0 and ramps.max() == 1
    assert (shapes.shape[shapes.kind == MOMENT].sum(axis=1) == 1).all()


def test_fault_has_to_gain_more_where_everything_else_has_heavy_tails():
    layout, hand = layout_of(16, places=tuple(np.arange(6) / 6))
    dearer: dict[str, list[float]] = {"normal": [], "heavy": []}
    for seed in range(10):
        tails = np.random.default_rng(100 + seed).standard_t(3, len(hand)) / 3**0.5
        calm = scatter(layout.position, seed, clock=0.006, movement=0.0)
        even = scatter(layout.position, seed, clock=0.006, movement=0.015)
        for name, late in (("normal", even), ("heavy", calm + 0.015 * tails)):
            search = Likelihood(layout, hand, late)
            dearer[name].append(
                dearer_for_tails(search.excess_kurtosis(search.fit([])), search.heaviness([], search.fit([])))
            )
    assert np.mean(dearer["heavy"]) > np.mean(dearer["normal"]) + 2
    assert max(dearer["heavy"]) <= MOST_FOR_TAILS


def test_displacement_beyond_all_tails_is_told_among_them_too():
    layout, hand = layout_of(24)
    for seed in range(4):
        errors = np.random.default_rng(seed).standard_t(3, len(hand)) / 3**0.5
        late = scatter(layout.position, seed, clock=0.006, movement=0.0) + 0.006 * errors
        late[31] += 0.18
        assert (MOMENT, 31) in {(fault.kind, fault.moment) for fault in find_faults(layout, hand, late).faults}


def test_second_fault_is_no_tail_of_the_first():
    layout, hand = layout_of(16)
    for seed in range(4):
        late = scatter(layout.position, seed)
        late[10] += 0.14
        late[31] -= 0.14
        assert [fault.moment for fault in find_faults(layout, hand, late).faults] == [10, 31]


def test_long_cycle_that_may_be_a_step_names_both():
    layout, hand = layout_of(16, places=(0.0, 0.5))
    rivals: set[int] = set()
    for seed in range(12):
        late = scatter(layout.position, seed) + 0.14 * np.select(
            [layout.position >= 7, layout.position >= 6.5], [1.0, 0.75], 0.0
        )
        for fault in find_faults(layout, hand, late).faults:
            assert fault.kind not in {kind for kind, _ in fault.rivals}
            rivals |= {kind for kind, by in fault.rivals if fault.kind != MOMENT and by.value > 0 and by.sd > 0}
    assert rivals & {RAMP, STEP}

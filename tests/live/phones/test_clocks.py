"""A phone's clock on ours: within the stated bound whatever the delays, and near where a median of offsets is not."""

import numpy as np
import pytest

from tempo_coach.live.phones.clock_lines import FASTEST, WANDER
from tempo_coach.live.phones.clocks import Opening, PhoneClock, PhoneClocks

SECONDS, OFFSET = 60.0, 1234.5
DELAYS = {
    "even": lambda rng, up: max(0.0005, rng.normal(0.005, 0.003)),
    "slow": lambda rng, up: max(0.001, rng.normal(0.02, 0.015)),
    "one-sided": lambda rng, up: 0.004 + rng.exponential(0.03 if up else 0.002),
}
#: Seconds at the 95th percentile.
FLOORS = {"even": 0.001, "slow": 0.005, "one-sided": 0.005}


def talk(kind: str, seed: int, ppm: float, *, lost: float = 0.02) -> tuple[PhoneClock, np.ndarray, np.ndarray, float]:
    """A minute of messages five times a second; stamps, what is true of them, and what the median of offsets says."""
    rng = np.random.default_rng(seed)
    clock, rate, halves = PhoneClock(), 1 + ppm * 1e-6, []
    for at in np.arange(0, SECONDS, 0.2):
        sent = at + rng.uniform(0, 0.02)
        if rng.random() < lost:
            continue
        here = OFFSET + sent * rate + DELAYS[kind](rng, True)
        clock.add_up(sent, here)
        back = (here - OFFSET) / rate + DELAYS[kind](rng, False)
        clock.add_down(here, back)
        halves.append(here - (sent + back) / 2)
    stamps = np.linspace(0, SECONDS, 200)
    return clock, stamps, OFFSET + stamps * rate, float(np.median(halves))


@pytest.mark.parametrize("kind", DELAYS)
def test_no_error_is_above_its_bound_and_few_are_above_half_the_floor(kind):
    errors = []
    for seed in range(6):
        clock, stamps, true, _ = talk(kind, seed, (-50.0, -10.0, 10.0, 50.0)[seed % 4])
        ours, half = clock.place(stamps)
        assert (np.abs(ours - true) <= half).all() and clock.jumps == 0
        errors.append(np.abs(ours - true))
    assert np.quantile(np.concatenate(errors), 0.95) < FLOORS[kind] / 2


def test_the_median_of_offsets_fails_where_delays_are_one_sided():
    clock, stamps, true, median = talk("one-sided", 3, 0.0)
    ours, _ = clock.place(stamps)
    assert abs(median - OFFSET) > 0.008 > 8 * np.abs(ours - true).mean() > 0


def test_a_constant_asymmetry_is_within_the_bound():
    clock = PhoneClock()
    for at in np.arange(0, 20, 0.2):
        clock.add_up(at, at + 0.030)
        clock.add_down(at + 0.030, at + 0.032)
    ours, half = clock.place([10.0])
    assert ours[0] - 10.0 == pytest.approx(0.014, abs=1e-4) and half[0] >= 0.014


def test_one_way_alone_says_nothing():
    clock = PhoneClock()
    clock.add_up(1.0, 5.0)
    ours, half = clock.place([1.0])
    assert np.isnan(ours[0]) and np.isinf(half[0])


def test_far_from_the_messages_the_bound_grows_as_rates_may_differ():
    clock = talk("even", 1, 40.0)[0]
    near, far = clock.place([SECONDS])[1][0], clock.place([SECONDS + 100])[1][0]
    assert near < far < near + 2 * 100 * FASTEST + WANDER
    ours, half = clock.place([SECONDS + 100])
    assert abs(ours[0] - (OFFSET + (SECONDS + 100) * (1 + 40e-6))) <= half[0]


def test_a_clock_that_stood_still_goes_on_from_there_and_what_lies_between_has_no_place():
    clock = PhoneClock()
    for at in np.arange(0, 10, 0.2):
        clock.add_up(at, at + 0.004)
        clock.add_down(at + 0.004, at + 0.008)
    for at in np.arange(10.2, 20, 0.2):  # it slept for 7 s, which its clock does not show
        clock.add_up(at, at + 7.004)
        clock.add_down(at + 7.004, at + 0.008)
    assert clock.jumps == 1
    ours, _ = clock.place([5.0, 9.7, 15.0])
    assert ours[0] == pytest.approx(5.0, abs=1e-3) and ours[2] == pytest.approx(22.0, abs=1e-3)
    assert np.isnan(clock.place([10.1])[0][0])


def load_anew(seed: int, *, wrong: float = 0.0) -> tuple[PhoneClocks, list[tuple[Opening, np.ndarray, np.ndarray]]]:
    """A page loaded anew within ten seconds without a network; its openings, stamps in each, and what is true of them.

    By ``wrong`` seconds the phone's system has set its clock meanwhile.
    """
    rng = np.random.default_rng([seed, 22])
    rate, clocks, found = 1 + 1e-6 * rng.uniform(-50, 50), PhoneClocks(), []
    for begin, first, last, origin in ((-5, -5, 24, 0.0), (27, 34, 60, wrong)):
        opening = Opening(f"p{begin}", 1.7e9 + rate * begin + origin)
        clock = clocks.of(opening)
        for at in np.arange(first, last, 0.2):
            here = at + max(0.0005, rng.normal(0.005, 0.003)) + 0.001 * rng.gamma(1.5)
            back = here + max(0.0005, rng.normal(0.005, 0.003)) + 0.001 * rng.gamma(1.5)
            clock.add_up(rate * (at - begin), OFFSET + here)
            clock.add_down(OFFSET + here, rate * (back - begin))
        true = np.sort(rng.uniform(max(begin, 0), min(last + 3, 60), 40))
        found.append((opening, rate * (true - begin), OFFSET + true))
    return clocks, found


def errors_of(clocks: PhoneClocks, found: list, *, apart: bool = False) -> np.ndarray:
    each = []
    for opening, stamps, true in found:
        ours, half = clocks.of(opening).place(stamps) if apart else clocks.place(opening, stamps)
        assert (np.abs(ours - true) <= half).all()
        each.append(np.abs(ours - true))
    return np.concatenate(each)


def test_a_page_that_is_loaded_anew_goes_on_with_the_clock_that_it_had():
    cases = [load_anew(seed) for seed in range(12)]
    together = [np.quantile(errors_of(*case), 0.95) for case in cases]
    apart = [np.quantile(errors_of(*case, apart=True), 0.95) for case in cases]
    assert max(together) < 0.0007 and np.mean(together) < 0.7 * np.mean(apart)


@pytest.mark.parametrize("wrong", [0.001, 0.004, 0.1, -30.0])
def test_a_system_whose_clock_was_set_meanwhile_costs_little_and_breaks_no_bound(wrong):
    errors = [np.quantile(errors_of(*load_anew(seed, wrong=wrong)), 0.95) for seed in range(6)]
    assert max(errors) < 0.003


def test_an_opening_that_ended_before_its_first_message_lies_between_its_neighbours():
    clocks, found = load_anew(3)
    short = Opening("short", found[1][0].origin - 1.0)
    ours, half = clocks.place(short, [0.5])
    assert abs(ours[0] - (OFFSET + 26.5)) <= half[0] < 0.015
    assert np.isnan(PhoneClocks().place(short, [0.5])[0]).all()
    clocks.of(short).add_up(0.0, OFFSET - 3600)  # its system says another hour than its neighbours do
    assert np.isnan(clocks.place(short, [0.5])[0]).all()

"""Sizes of circles: measured, those that stand out, and one body's against another's."""

import numpy as np
import pytest

from tempo_coach.observe.trace.sizes import SEEN, compare_sizes, find_odd_sizes, measure_circles, measure_cycles
from tempo_coach.observe.trace.trace import Channel, Trace
from tempo_coach.observe.trace.tracked_body import TrackedBody, observe
from tests.generators.movement import carried, circling


def seen(trace: Trace) -> TrackedBody:
    return observe(trace)


def test_the_radius_of_a_circle_is_its_radius() -> None:
    sizes = measure_cycles(seen(circling(np.full(20, 0.5))))
    assert sizes is not None
    np.testing.assert_allclose(np.nanmedian(sizes.radius), 0.5, rtol=0.02)
    assert np.isfinite(sizes.radius).sum() >= 18


@pytest.mark.parametrize(("factor", "kind"), [(1.4, "bigger"), (0.65, "smaller")])
@pytest.mark.parametrize("at", [5, 12])
def test_a_circle_that_stands_out_is_told_with_its_kind_and_place(factor: float, kind: str, at: int) -> None:
    radii = np.full(20, 0.5)
    radii[at] *= factor
    flags = find_odd_sizes(seen(circling(radii, seed=at)))
    assert [flag.kind for flag in flags] == [kind]
    assert abs((flags[0].start + flags[0].end) / 2 - 0.8 * (at + 0.5)) < 0.7
    # cycles are counted from low points: a circle that is not shares its size between two of them
    assert 0.35 < np.log(flags[0].ratio) / np.log(factor) < 1.2


@pytest.mark.parametrize("seed", range(8))
def test_circles_of_one_size_and_of_one_that_grows_are_not_told(seed: int) -> None:
    assert find_odd_sizes(seen(circling(np.full(16, 0.5), seed=seed))) == []
    assert find_odd_sizes(seen(circling(np.linspace(0.3, 0.6, 24), seed=seed))) == []


def test_less_than_is_seen_is_not_told() -> None:
    radii = np.full(30, 0.5)
    radii[14] *= 1 + 0.6 * SEEN
    assert find_odd_sizes(seen(circling(radii, seed=3, noise=0.0005))) == []


def test_who_starts_small_is_not_told_so() -> None:
    radii = np.full(18, 0.5)
    radii[[0, -1]] = 0.25
    assert find_odd_sizes(seen(circling(radii))) == []


def test_a_circle_that_was_not_read_has_no_radius() -> None:
    trace = circling(np.full(20, 0.5))
    values = trace.values.copy()
    values[(trace.time > 7.0) & (trace.time < 7.5)] = np.nan
    sizes = measure_cycles(seen(Trace(trace.time, values, trace.channels)))
    assert sizes is not None
    lost = np.isnan(sizes.radius) & (sizes.start > 5) & (sizes.end < 9)
    assert lost.any() and find_odd_sizes(seen(Trace(trace.time, values, trace.channels))) == []


def test_swings_are_measured_by_their_cycles_and_sensors_show_no_size() -> None:
    time = np.arange(0, 24, 0.02)
    wide = np.where((time > 11.3) & (time < 12.7), 1.6, 1.0) * np.sin(2 * np.pi * time / 1.2)
    values = np.column_stack([wide, 0.1 * np.cos(4 * np.pi * time / 1.2)])
    values += 0.005 * np.random.default_rng(0).standard_normal(values.shape)
    body = seen(Trace(time, values, [Channel(a, "position", a, unit="m") for a in "xz"]))
    assert measure_cycles(body) is not None
    assert {flag.kind for flag in find_odd_sizes(body)} == {"bigger"}
    sensor = seen(Trace(time, values, [Channel(a, "rotation", a, unit="rad/s") for a in "xz"]))
    assert measure_cycles(sensor) is None and measure_circles(sensor) is None and find_odd_sizes(sensor) == []


def test_one_hand_is_set_against_the_other() -> None:
    first, second = (seen(circling(np.full(20, r), seed=k, name=n)) for r, k, n in ((0.5, 1, "l"), (0.65, 2, "r")))
    found = compare_sizes(second, first)
    assert found is not None and found.differs
    assert found.ratio == pytest.approx(1.3, rel=0.03) and found.low < 1.3 < found.high
    same = compare_sizes(seen(circling(np.full(20, 0.51), seed=3, name="r")), first)
    assert same is not None and not same.differs


def test_a_circle_that_carries_small_ones_is_set_against_a_plain_one_by_its_whole_cycles() -> None:
    mills, plain = seen(carried(2).trace), seen(circling(np.full(20, 0.7), seed=4, name="r"))
    assert measure_circles(mills) is not None and measure_circles(plain) is None
    found = compare_sizes(mills, plain)
    # root mean square of a circle of .7 with one of .3 on it
    assert found is not None and found.ratio == pytest.approx(np.hypot(0.7, 0.3) / 0.7, rel=0.03)

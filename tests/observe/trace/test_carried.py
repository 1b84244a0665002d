"""Small circles told from what carries them: counted in the room and on the arm, found where they hide."""

import numpy as np
import pytest

from tempo_coach.observe.trace.carried import MOST_CIRCLES, Bout, find_direction, separate_carried
from tempo_coach.observe.trace.circles import find_circles
from tempo_coach.observe.trace.selection import pick
from tempo_coach.observe.trace.trace import Channel, Trace
from tests.generators import movement
from tests.observe.trace.test_circles import off

PER_CYCLE = 96


def bout(cycles: float, *, many: float = 4.0, small: float = 0.3, big: float = 0.7, sense: int = 1) -> Bout:
    """A bigger circle against the clock and small ones, from their low points, a second a cycle."""
    n = round(cycles * PER_CYCLE)
    time = np.arange(n) / PER_CYCLE
    path = -1j * (big * np.exp(2j * np.pi * time) + small * np.exp(2j * np.pi * sense * many * time))
    return Bout(3, time, path, np.ones(n, dtype=bool), PER_CYCLE)


@pytest.mark.parametrize("sense", [1, -1])
def test_the_direction_is_whole_at_the_low_point_of_a_circle_against_the_clock(sense: int) -> None:
    one = bout(6, big=0.0, small=0.5, many=1.0, sense=sense)
    found = find_direction(one, 8.0)
    inside = slice(PER_CYCLE, -PER_CYCLE)
    # with the clock it runs to the left at the low point: half a turn
    truth = one.time if sense == 1 else 0.5 - one.time
    away = (found - truth)[inside]
    np.testing.assert_allclose(away - np.round(away), 0, atol=0.002)


@pytest.mark.parametrize("sense", [1, -1])
def test_small_circles_are_separated_and_readings_thinned_to_16_a_circle(sense: int) -> None:
    whole = bout(8, sense=sense)
    thinned, found = separate_carried(whole, 4.0 * sense)
    assert found is not None
    step = PER_CYCLE // (16 * 4)
    assert (thinned.number, thinned.per_cycle, thinned.time.size) == (3, PER_CYCLE, -(-whole.time.size // step))
    assert found.small.size == thinned.time.size
    assert found.in_room == pytest.approx(4, abs=0.05)
    assert (found.small_sense, found.carrying_sense) == (sense, 1)
    assert found.small_radius == pytest.approx(0.3, rel=0.02)
    assert found.carrying_radii == pytest.approx((0.7, 0.7), rel=0.03)
    assert found.reasons == ()
    inside = (thinned.time > 1) & (thinned.time < 7)
    away = (found.small - 4 * thinned.time)[inside]
    np.testing.assert_allclose(away - np.round(away), 0, atol=0.01)  # whole at the low points


def test_where_a_bigger_circle_is_alone_nothing_is_separated() -> None:
    alone = bout(8, small=0.0)
    assert separate_carried(alone, 1.0) == (alone, None)


@pytest.mark.parametrize(("small", "found"), [(0.04, False), (0.07, True)])
def test_a_hidden_circle_is_looked_for_from_a_twelfth_of_what_hides_it(small: float, found: bool) -> None:
    # 0.08 of the radius is the limit: 0.056 of 0.7
    assert (separate_carried(bout(8, small=small), 1.0)[1] is not None) is found


def test_a_hidden_circle_is_looked_for_in_three_cycles_and_up_to_twelve_a_cycle() -> None:
    assert separate_carried(bout(2.9, small=0.1), 1.0)[1] is None
    assert separate_carried(bout(3.1, small=0.1), 1.0)[1] is not None
    most = separate_carried(bout(8, small=0.06, many=MOST_CIRCLES - 1), 1.0)[1]
    assert most is not None and most.in_room == pytest.approx(MOST_CIRCLES - 1, abs=0.1)
    assert separate_carried(bout(8, small=0.06, many=MOST_CIRCLES + 1), 1.0)[1] is None


@pytest.mark.parametrize(
    ("opposite", "ratio", "room", "arm"), [(False, 4, 4, 3), (True, 4, 4, 5), (False, 3, 3, 2), (False, 5, 5, 4)]
)
def test_carried_mills_are_counted_in_the_room_and_on_the_arm(
    opposite: bool, ratio: int, room: float, arm: float
) -> None:
    # five in the room are four on the arm where both turn one way; against each other it is one more (exact)
    made = movement.carried(3, opposite=opposite, ratio=ratio)
    found = find_circles(pick(made.trace))
    (separation,) = found.separations
    assert separation.in_room == pytest.approx(room, abs=0.1)
    assert separation.on_arm == pytest.approx(arm, abs=0.1)
    assert separation.small_sense == (-1 if opposite else 1)
    assert separation.carrying_sense == 1
    assert separation.small_radius == pytest.approx(0.3, rel=0.03)
    assert separation.carrying_radii[0] == pytest.approx(0.7, rel=0.03)
    assert separation.reasons == ()
    assert np.median(np.abs(off(found.time, made.circles[""]))) < 0.002


def test_a_small_circle_slower_than_what_carries_it_is_still_found() -> None:
    made = movement.carried(0, small=0.12)
    found = find_circles(pick(made.trace))
    assert found.separations[0].in_room == pytest.approx(4, abs=0.1)
    assert np.median(np.abs(off(found.time, made.circles[""]))) < 0.003


def test_too_few_cycles_are_not_called_separable() -> None:
    made = movement.carried(0, n=2)
    found = find_circles(pick(made.trace))
    assert all(separation.reasons for separation in found.separations)


@pytest.mark.parametrize("opposite", [False, True])
@pytest.mark.parametrize(("small", "big", "known"), [(0.5, 0.5, None), (0.7, 0.3, None), (0.7, 0.15, 1.6)])
def test_a_clubs_circle_may_be_larger_than_the_arms(
    small: float, big: float, known: float | None, opposite: bool
) -> None:
    for seed in range(3):
        made = movement.carried(seed, small=small, big=big, opposite=opposite)
        found = find_circles(made.trace, period=known)
        (separation,) = found.separations
        assert separation.in_room == pytest.approx(4, abs=0.1)
        # room frame less arm frame is the sense of the one in the other (exact): 5 where they turn against each other
        assert separation.on_arm == pytest.approx(5 if opposite else 3, abs=0.1)
        assert separation.small_radius == pytest.approx(small, rel=0.05)
        near = np.abs(found.time[:, None] - made.circles[""]).min(axis=1)
        assert np.median(near) < 0.002


@pytest.mark.parametrize("circles", [None, 3])
def test_a_rope_that_turns_in_bursts_has_cycles_from_the_arms_low_point(circles: int | None) -> None:
    # an arm that swings on an arc is no ellipse, and between two bursts it is faster than the wrist
    for seed in range(3):
        made = movement.swung_rope(seed)
        found = find_circles(pick(made.trace), circles=circles)
        if circles is not None:  # the velocity winds twice a cycle; a pattern with three decides
            assert (np.bincount(found.cycle)[1:-1] == circles).mean() > 0.9
        away = found.cycles.time[:, None] - made.cycles
        away = away[np.arange(found.cycles.time.size), np.abs(away).argmin(axis=1)]
        assert abs(np.median(away)) < 0.02


@pytest.mark.parametrize(("inner", "found"), [(3.0, True), (0.0, False)])
def test_a_loose_hidden_circle_needs_a_period_of_its_own(inner: float, found: bool) -> None:
    # a big circle whose path is bent three times a turn, and bent elsewhere too: more is left than the small one is
    plain = bout(12, many=3.0, small=0.09)
    bent = plain.path + 0.08 * np.exp(-12j * np.pi * plain.time) + 0.08 * np.exp(14j * np.pi * plain.time)
    whole = Bout(plain.number, plain.time, bent, plain.known, plain.per_cycle)
    _, separation = separate_carried(whole, 1.0, inner=inner)
    assert (separation is not None) == found


@pytest.mark.parametrize("axes", [(0, 1), (1,)])
def test_carried_circles_seen_edge_on_are_counted_where_no_turning_shows(axes: tuple[int, ...]) -> None:
    # beside the plane of the mills, all that is seen of them is up and down; what lies across is sway and noise
    made = movement.carried(3)
    rng = np.random.default_rng(0)
    height = made.trace.values[:, made.trace.axes.index("z" if "z" in made.trace.axes else "y")]
    across = 0.03 * rng.standard_normal(height.size)
    values = np.column_stack([across, height])[:, list(axes)]
    channels = [Channel(name, "position", name, unit="m") for name in "xz"]
    found = find_circles(Trace(made.trace.time, values, [channels[k] for k in axes]))
    (separation,) = found.separations
    assert separation.in_room == pytest.approx(4, abs=0.1)
    assert np.isnan(separation.on_arm)
    assert set(found.sense.tolist()) == {0}
    assert separation.small_radius == pytest.approx(0.3, rel=0.05)
    assert np.median(np.abs(off(found.time, made.circles[""]))) < 0.01

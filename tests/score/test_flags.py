"""What stands out: the table, the scatter, and the cases that must not be taken for each other."""

import numpy as np
import pytest

from tempo_coach.score import flags
from tempo_coach.score.flags import Table, Thresholds, find_broken, look_up_thresholds
from tests.benchmarks.performer import correct


def table(off):
    off = np.asarray(off, dtype=float)
    asked = np.arange(off.size).reshape(off.shape) * 0.5
    observed = asked + off
    ratios = np.append(np.diff(observed[:, 0]) / np.diff(asked[:, 0]), np.nan)
    return Table(observed, asked, ratios)


def test_too_few_cycles_show_nothing():
    assert find_broken([table(np.zeros((3, 1)))], allowance=0.025) == []
    assert find_broken([], allowance=0.025) == []


def test_thresholds_of_moments_fall_with_the_cycles():
    moments = [look_up_thresholds(n, 2, 2).moment for n in (4, 6, 8, 12)]
    assert moments == sorted(moments, reverse=True)


@pytest.mark.parametrize(
    ("asked", "neighbours"),
    [
        ((24, 2, 2), [(24, 2, 2)]),
        ((10, 2, 2), [(8, 2, 2), (12, 2, 2)]),
        ((24, 5, 1), [(24, 4, 1), (24, 6, 1)]),
        ((40, 7, 1), [(24, 6, 1), (24, 8, 1), (48, 6, 1), (48, 8, 1)]),
        ((5000, 40, 7), [(96, 9, 3)]),
        ((3, 1, 1), [(4, 1, 1)]),
    ],
)
def test_between_simulated_sizes_the_stricter_neighbour_counts(asked, neighbours):
    simulated = [look_up_thresholds(*size) for size in neighbours]
    assert look_up_thresholds(*asked) == Thresholds(
        max(each.period for each in simulated),
        max(each.moment for each in simulated),
    )


@pytest.mark.parametrize("hands", [1, 2])
def test_what_is_done_exactly_is_not_broken(hands):
    assert find_broken([table(np.zeros((12, 2)))] * hands, allowance=0.025) == []


def test_a_long_cycle_after_which_all_is_later():
    off = np.zeros((16, 2))
    off[6:] = 0.2
    off[5, 1] = 0.1
    (found,) = find_broken([table(off)], allowance=0.025)
    assert (found.row, found.column, found.kind) == (5, None, "long")
    assert found.by == pytest.approx(0.2)


def test_an_early_anchor_is_neither_a_short_nor_a_long_cycle():
    off = np.zeros((16, 2))
    off[6, 0] = -0.15
    (found,) = find_broken([table(off)], allowance=0.025)
    assert (found.row, found.column, found.kind) == (6, 0, "early")
    assert found.by == pytest.approx(-0.15)


def test_what_both_hands_do_at_once_is_seen_in_both():
    off = np.zeros((16, 1))
    off[6] = 0.15
    found = find_broken([table(off), table(off)], allowance=0.025)
    assert [(f.hand, f.row, f.kind) for f in found] == [(0, 6, "late"), (1, 6, "late")]


@pytest.mark.parametrize("gain", [0.0, 0.3, 0.5])
def test_what_is_made_good_after_a_long_cycle_is_no_fault(gain):
    generator = np.random.default_rng(11)
    off = generator.normal(0, 0.005, (16, 2))
    behind = 0.12 * (1 - gain) ** np.arange(10)
    off[6:, 0] += behind
    off[6:, 1] += behind * (2 - gain) / 2  # half way to the next anchor
    off[5, 1] += 0.06
    (found,) = find_broken([table(off)], allowance=0.025)
    assert (found.row, found.column, found.kind) == (5, None, "long")


@pytest.mark.parametrize(("by", "kind"), [(0.3, "late"), (-0.3, "early")])
def test_an_anchor_that_the_periods_give_away_is_what_is_flagged(by, kind):
    """It scatters too much to stand out by itself, but the period before it does, and it explains that."""
    generator = np.random.default_rng(12)
    off = np.zeros((16, 4))
    off[:, 1:] = generator.normal(0, 0.1, (16, 3))
    off[8, 0] = by
    found = find_broken([table(off)], allowance=0.025)
    assert [(f.row, f.column, f.kind) for f in found if f.row in (7, 8)] == [(8, 0, kind)]


def test_an_anchor_that_came_early_makes_the_cycle_long_and_is_to_blame():
    off = np.random.default_rng(13).normal(0, 0.004, (12, 1))
    off[5, 0] -= 0.3
    (found,) = find_broken([table(off)], allowance=0.025)
    assert (found.row, found.column, found.kind) == (5, 0, "early")


def test_a_steady_hand_is_told_of_less():
    """Of cycles of 0.5 s one 8 % long is found where anchors scatter by 2 ms, and not where they do by 20."""
    for sd, number in ((0.002, 1), (0.02, 0)):
        off = np.random.default_rng(14).normal(0, sd, (16, 1))
        off[8:] += 0.04
        assert len(find_broken([table(off)], allowance=0.025)) == number


def test_less_than_the_allowance_is_in_time():
    off = np.random.default_rng(15).normal(0, 0.001, (16, 1))
    off[8:] += 0.04
    assert len(find_broken([table(off)], allowance=0.06)) == 1  # of a step of 0.5 s that is 8 %
    assert find_broken([table(off)], allowance=0.1) == []


def both(found):
    return [(f.row, f.column, f.kind) for f in found]


@pytest.mark.parametrize(("sign", "kind"), [(1, "long"), (-1, "short")])
def test_the_anchor_behind_a_broken_cycle_is_not_blamed_too(sign, kind):
    """Made good by 40 % from cycle to cycle, its anchor stands out a little as well: it is late, not displaced."""
    off = np.random.default_rng(16).normal(0, 0.002, (20, 3))
    off[8] += sign * np.array([0, 0.04, 0.11])
    off[9] += sign * np.array([0.3, 0.25, 0.21])
    off[10] += sign * np.array([0.18, 0.15, 0.12])
    off[11] += sign * np.array([0.1, 0.08, 0.06])
    off[12] += sign * np.array([0.04, 0.02, 0.01])
    found = find_broken([table(off)], allowance=0.025)
    assert both(found) == [(8, None, kind)]
    assert found[0].by == pytest.approx(sign * 0.3, abs=0.02)


def test_an_anchor_between_moments_in_time_is_what_broke():
    off = np.random.default_rng(16).normal(0, 0.002, (20, 3))
    off[9, 0] += 0.3
    assert both(find_broken([table(off)], allowance=0.025)) == [(9, 0, "late")]


def test_a_broken_cycle_leaves_other_moments_to_themselves():
    off = np.random.default_rng(17).normal(0, 0.002, (20, 2))
    off[9:] += 0.2
    off[8, 1] += 0.1
    off[14, 1] -= 0.12
    assert both(find_broken([table(off)], allowance=0.025)) == [(8, None, "long"), (14, 1, "early")]


def test_four_cycles_are_looked_at_and_three_are_not():
    off = np.random.default_rng(18).normal(0, 0.001, (4, 4))
    off[2, 1] += 0.24
    assert both(find_broken([table(off)], allowance=0.025)) == [(2, 1, "late")]
    assert find_broken([table(off[:3])], allowance=0.025) == []


def test_levels_are_shares_of_the_period_that_was_asked():
    asked = np.array([[0.0], [1.0], [3.0]])
    made = Table(asked + np.array([[0.1], [0.1], [0.3]]), asked, np.ones(3))
    assert made.levels == pytest.approx([0.1, 0.05, 0.15])
    assert Table(asked[:1] + 0.1, asked[:1], np.ones(1)).levels == pytest.approx([0.1])


def test_what_cannot_be_heard_is_in_time_however_steady_she_is():
    """6 ms at the fastest (Friberg & Sundberg 1995, abstract): the allowance of 2.5 % of 0.1 s would be less."""
    for late, number in ((0.005, 0), (0.008, 1)):
        off = np.zeros((60, 1))
        off[30] = late
        fast = Table(np.arange(60)[:, None] * 0.1 + off, np.arange(60)[:, None] * 0.1, np.ones(60))
        assert len(find_broken([fast], allowance=0.025)) == number


def natural(generator, cycles, hands, *, longer=None):
    """Asynchronies of somebody who makes good a half of each, in hands that take turns; periods scatter by 3 %."""
    inner = correct(generator, cycles + 1, gain=0.5, clock=0.019, motor=0.0)
    if longer is not None:
        behind = np.arange(cycles + 1) - longer - 1
        inner += np.where(behind >= 0, 0.2 * 0.5 ** np.maximum(behind, 0), 0)
    share = np.arange(hands) / hands
    late = inner[:-1, None] * (1 - share) + inner[1:, None] * share + generator.normal(0, 0.015, (cycles, hands))
    return late, np.arange(cycles)[:, None] + share


def by_hand(late, asked):
    columns = zip(asked.T[:, :, None], late.T[:, :, None], strict=True)
    return [Table(a + b, a, np.append(np.diff(a + b, axis=0) / np.diff(a, axis=0), np.nan)) for a, b in columns]


# one moment a cycle, SD 0.032 of it against its neighbours, leaves less to tell them by
@pytest.mark.parametrize(("hands", "least"), [(1, 85), (2, 95)])
def test_the_cycles_round_a_long_one_are_left_alone(hands, least):
    """Also that of the other hand, which is long by a part of it, and those in which it is made good."""
    told = wrong = 0
    for seed in range(100):
        late, asked = natural(np.random.default_rng(seed), 16, hands, longer=7)
        found = both(find_broken(by_hand(late, asked), allowance=0.025))
        told += (7, None, "long") in found
        wrong += len(found) - ((7, None, "long") in found)
    assert told >= least
    assert wrong <= 20  # of 1,500 other cycles fewer than 8 would be flagged anyway


@pytest.mark.parametrize(("hands", "least"), [(1, 70), (2, 92)])
def test_the_moments_beside_a_displaced_one_are_left_alone(hands, least):
    told = wrong = 0
    for seed in range(100):
        late, asked = natural(np.random.default_rng(seed), 16, hands)
        late[7, 0] += 0.12
        found = [(f.hand, f.row, f.kind) for f in find_broken(by_hand(late, asked), allowance=0.025)]
        told += (0, 7, "late") in found
        wrong += len(found) - ((0, 7, "late") in found)
    assert told >= least
    assert wrong <= 20


def test_two_long_cycles_are_both_told():
    off = np.random.default_rng(19).normal(0, 0.004, (24, 2))
    for row in (6, 8, 17):
        off[row, 1] += 0.1
        off[row + 1 :] += 0.2
    assert both(find_broken([table(off)], allowance=0.025)) == [
        (6, None, "long"),
        (8, None, "long"),
        (17, None, "long"),
    ]


def test_a_late_circle_behind_a_long_cycle_is_still_told():
    off = np.random.default_rng(20).normal(0, 0.004, (20, 3))
    off[8, 1:] += [0.1, 0.2]
    off[9:] += 0.3
    off[10, 1] += 0.25
    assert both(find_broken([table(off)], allowance=0.025)) == [(8, None, "long"), (10, 1, "late")]


@pytest.mark.parametrize("hands", [1, 2])
def test_ten_long_cycles_are_all_told(hands):
    off = np.random.default_rng(21).normal(0, 0.004, (90, 2))
    rows = list(range(8, 88, 8))
    for row in rows:
        off[row, 1] += 0.1
        off[row + 1 :] += 0.2
    tables = [table(off)] if hands == 1 else by_hand(off, np.arange(off.size).reshape(off.shape) * 0.5)
    found = find_broken(tables, allowance=0.025)
    assert both(found) == [(row, None, "long") for row in rows]
    # the other hand's half of the same lateness is taken for no second one
    assert [one.hand for one in found] == [0] * 10
    assert [one.by for one in found] == pytest.approx([0.2] * 10, abs=0.015)


@pytest.mark.parametrize("seed", range(5))
def test_a_long_cycle_whose_anchor_came_early_is_told_as_both_and_once(seed):
    off = np.random.default_rng(seed).normal(0, 0.004, (24, 2))
    off[8, 1] += 0.1
    off[9:] += 0.2
    off[8, 0] -= 0.2
    assert both(find_broken([table(off)], allowance=0.025)) == [(8, 0, "early"), (8, None, "long")]


def test_thresholds_are_those_of_as_many_cycles_moments_and_hands(monkeypatch):
    asked = []
    monkeypatch.setattr(flags, "look_up_thresholds", lambda *size: asked.append(size) or look_up_thresholds(*size))
    find_broken([table(np.zeros((30, 2))), table(np.zeros((29, 3)))], allowance=0.025)
    assert asked == [(30, 5, 2)]


@pytest.mark.parametrize(("late", "number"), [(0.045, 0), (0.055, 1)])
def test_a_moment_within_the_allowance_is_in_time_however_steady_she_is(late, number):
    off = np.zeros((16, 2))
    off[8, 1] = late  # a tenth of the step of 0.5 s is 0.05 s
    assert len(find_broken([table(off)], allowance=0.1)) == number


@pytest.mark.parametrize("slower", [0.25, 4, 16])
def test_what_is_broken_is_so_at_every_tempo(slower):
    off = np.random.default_rng(22).normal(0, 0.008, (24, 2))
    off[6, 1] += 0.2
    off[7:] += 0.4
    off[15, 0] -= 0.3
    plain = table(off)
    made = Table(slower * plain.observed, slower * plain.asked, plain.ratios)
    one, other = find_broken([plain], allowance=0.025), find_broken([made], allowance=0.025)
    assert both(one) == both(other) == [(6, None, "long"), (15, 0, "early")]
    assert [f.by for f in other] == pytest.approx([slower * f.by for f in one])


def test_levels_and_periods_are_those_of_the_anchors():
    asked = np.array([[0.0, 0.5], [1.0, 2.0], [3.0, 3.5]])
    observed = asked + np.array([[0.1, 0.7], [0.2, 0.8], [0.4, 0.9]])
    made = Table(observed, asked, np.array([1.1, 1.1, np.nan]))
    assert made.levels == pytest.approx([0.1, 0.1, 0.2])
    # the second anchor 0.2 s earlier: a cycle of 1 s loses a fifth, the next one of 2 s gains a tenth
    less = made.less(observed - np.array([[0, 0], [0.2, 0], [0, 0.3]]))
    assert less.ratios == pytest.approx([0.9, 1.2, np.nan], nan_ok=True)
    assert less.levels == pytest.approx([0.1, 0, 0.2])

"""Single displacements: what stands out on both sides, and the scatter that it is held against."""

import numpy as np
import pytest

from tempo_coach.score.displaced import find_displacements, scatter_of_others, standing_out, usual_offsets


def in_order(n):
    return [np.arange(n)]


def test_a_single_displacement_stands_out_and_a_step_does_not():
    spike = np.zeros(12)
    spike[5] = 1
    assert standing_out(spike)[0].argmax() == 5
    assert standing_out(spike)[0][5] == 1
    step = (np.arange(12) >= 5).astype(float)
    assert np.abs(standing_out(step)[0]).max() == 0


def test_a_missed_moment_does_not_stand_out():
    values = np.zeros(9)
    values[4] = np.nan
    assert standing_out(values)[0].tolist() == [0] * 9


def test_a_moment_that_scatters_more_is_held_against_its_own_scatter():
    generator = np.random.default_rng(4)
    values = np.column_stack([generator.normal(0, 2, 60), generator.normal(0, 1, 60)])
    scatter = scatter_of(values.ravel(), np.tile([0, 1], 60), in_order(120)).reshape(60, 2)
    assert (scatter[:, 0] > 1.2 * scatter[:, 1]).all()
    # a mean square of 4 or 1 and of a quarter of the mean of four neighbours, two of each; drawn towards all by 24
    own, other = 4 + (2 * 4 + 2 * 1) / 16, 1 + (2 * 4 + 2 * 1) / 16
    expected = np.sqrt((58 * own + 24 * (own + other) / 2 + 3) / 85)
    assert np.median(scatter[:, 0]) == pytest.approx(expected, rel=0.15)


def test_the_scatter_is_that_of_the_others():
    values = np.random.default_rng(5).normal(0, 1, 40)
    zero = np.zeros(40, dtype=int)
    before = scatter_of(values, zero, in_order(40))
    values[20] += np.sign(values[20])
    after = scatter_of(values, zero, in_order(40))
    assert after[20] == pytest.approx(before[20])
    assert (after[:15] > before[:15]).all()


def test_what_is_usual_counts_where_nothing_else_is_known():
    values = np.full(6, np.nan)
    assert scatter_of(values, np.zeros(6, dtype=int), in_order(6), 0.3) == pytest.approx([0.3] * 6)
    values[:2] = 0.01
    assert scatter_of(values, np.zeros(6, dtype=int), in_order(6), 0.3)[2] == pytest.approx(0.3)


def test_the_scatter_of_exact_movements_is_what_is_believed_beforehand():
    asked = np.arange(24.0).reshape(12, 2)
    ((out, scatter),) = find_displacements([asked], [asked])
    assert not out.any()
    # a share of 0.02 of the cycle of 2 s, as heavy as 3 of the moments there are
    assert scatter[5, 0] == pytest.approx(0.04 * np.sqrt(3 / (12 - 3 + 24 + 3)), rel=0.05)


def test_hands_that_move_together_are_not_each_others_neighbours():
    asked = np.arange(12.0)[:, None]
    done = asked.copy()
    done[6] += 0.2
    found = find_displacements([done, done], [asked, asked])
    assert [out[6, 0] for out, _ in found] == pytest.approx([0.2, 0.2])
    apart = find_displacements([done, asked + 0.5], [asked, asked + 0.5])
    assert apart[0][0][6, 0] == pytest.approx(0.2)
    assert not apart[1][0].any()


def one_by_one(values, label, groups, usual):
    """The same with a loop: the others of its label, of all, and what is believed (24 and 3 moments).

    The others are as if the one that is asked about had been missed.
    """

    def leave(without):
        rest = np.full(len(values), np.nan)
        for group in groups:
            kept = [k for k in group if k != without and not np.isnan(values[k])]
            for place, k in enumerate(kept):
                sides = kept[max(place - 2, 0) : place], kept[place + 1 : place + 3]
                if all(sides):
                    rest[k] = values[k] - sum(np.mean(values[side]) for side in sides) / 2
        return rest

    rest = leave(None)
    known = rest[~np.isnan(rest)]
    smaller = np.sort((known - np.median(known)) ** 2)[: int(np.ceil(0.75 * len(known)))]
    limit = 3.5 * 1.6483 * np.sqrt(smaller.mean())
    made = np.empty(len(values))
    for k in range(len(values)):
        others = leave(k)
        used = ~np.isnan(others) & (np.abs(others) <= limit)
        own = used & (label == label[k])
        made[k] = np.sqrt(
            ((others[own] ** 2).sum() + 24 * (others[used] ** 2).mean() + 3 * usual**2) / (own.sum() + 27)
        )
    return made


def scatter_of(values, label, groups, usual=1.0):
    rest = np.full(len(values), np.nan)
    for group in groups:
        rest[group] = standing_out(values[group])[1]
    return scatter_of_others(values, rest, label, groups, usual=usual)


def test_the_scatter_of_the_others_one_by_one():
    generator = np.random.default_rng(6)
    values, label = generator.normal(0, 1, 40), np.tile([0, 1, 2, 1], 10)
    values[[3, 20]] = np.nan
    values[12] = 9
    groups = [np.arange(0, 40, 2), np.arange(1, 40, 2)]
    assert scatter_of(values, label, groups, 0.7) == pytest.approx(one_by_one(values, label, groups, 0.7))


def test_what_stands_out_by_hand():
    values = np.array([0.0, 1.0, 5.0, 2.0, 3.0, np.nan, 4.0])
    out, rest = standing_out(values)
    # 5 against (0 + 1)/2 and (2 + 3)/2; 2 against (1 + 5)/2 and (3 + 4)/2; 3 against (5 + 2)/2 and 4
    assert out.tolist() == [0, 0, 3.5, -1.25, -0.75, 0, 0]
    assert rest[1] == pytest.approx(1 - (0 + 3.5) / 2)  # out on one side alone
    assert np.isnan(rest[[0, 5, 6]]).all()


@pytest.mark.parametrize(("before", "told"), [(0.3, False), (0.4, True)])
def test_what_is_out_far_more_on_one_side_is_a_step(before, told):
    """Either side has to show half of it: 0.35 of 1.35 in the mean is too little."""
    values = np.array([0.0, 0.0, 1.0, 1 - before, 1 - before])
    assert bool(standing_out(values)[0][2]) == told


def test_one_displaced_moment_makes_no_others_early():
    """Four neighbours are compared with it; told that it is out, they are compared with others instead."""
    asked = np.arange(40.0)[:, None]
    done = asked + np.random.default_rng(8).normal(0, 0.001, asked.shape)
    done[20] += 0.5
    done[21] -= 0.15
    ((out, scatter),) = find_displacements([done], [asked])
    ((alone, same),) = find_displacements([done], [asked], beyond=4.0, least=0.2)
    assert np.flatnonzero(np.abs(out) > np.maximum(4 * scatter, 0.2)).tolist() == [20, 21]
    assert np.flatnonzero(np.abs(alone) > np.maximum(4 * same, 0.2)).tolist() == [20]
    assert alone[20] == out[20]
    assert alone[21] == pytest.approx(-0.15, abs=0.005)
    ((large, _),) = find_displacements([done], [asked], beyond=4.0, least=0.6)
    assert large == pytest.approx(out)


@pytest.mark.parametrize("apart", [0.0, 0.1, 0.5])
def test_two_hands_and_the_moments_beside_each_other(apart):
    """Nearer than 0.4 of the mean step each hand is looked at alone; else the other hand's are the neighbours."""
    generator = np.random.default_rng(7)
    asked = [np.arange(16.0)[:, None], np.arange(16.0)[:, None] + apart]
    done = [one + generator.normal(0, 0.02, one.shape) for one in asked]
    late = np.column_stack([(a - b).ravel() for a, b in zip(done, asked, strict=True)])
    off = list((late - np.median(late - late.mean(axis=1, keepdims=True), axis=0)).T)
    found = find_displacements(done, asked)
    if apart < 0.4:
        for (out, _), mine in zip(found, off, strict=True):
            assert out.ravel() == pytest.approx(standing_out(mine)[0])
        groups = [np.arange(16), np.arange(16, 32)]
    else:
        together, _ = standing_out(np.column_stack(off).ravel())
        assert found[0][0].ravel() == pytest.approx(together[0::2])
        assert found[1][0].ravel() == pytest.approx(together[1::2])
        groups = [np.arange(32).reshape(2, 16).T.ravel()]
    step = 1.0 if apart == 0 else (15 + apart) / 31
    scatter = one_by_one(np.concatenate(off), np.repeat([0, 1], 16), groups, min(0.06 * step, 0.02))
    assert np.concatenate([own.ravel() for _, own in found]) == pytest.approx(scatter)


def test_after_a_long_cycle_what_is_usual_for_each_moment_is_as_before():
    """Half of the first moments lie before it and more than half of the second: neither is a habit."""
    late = np.tile([0.0, 0.03], (20, 1))
    late[9:] += 0.2
    late[8, 1] += 0.2
    (offsets,) = usual_offsets([late])
    assert offsets[1] - offsets[0] == pytest.approx(0.03)
    one, other = usual_offsets([late[:, :1], late[:14, 1:]])  # two hands, one of them cut short
    assert other - one == pytest.approx(0.03)
    assert usual_offsets([]) == []


def test_what_is_usual_for_a_moment_is_told_within_the_cycles():
    asked = np.arange(24.0).reshape(12, 2)
    done = asked + np.array([0.0, 0.4])  # the second moment is always late: no single one is
    done[3, 1] = np.nan
    ((out, _),) = find_displacements([done], [asked])
    assert np.abs(out).max() < 1e-12


def test_fast_moments_are_believed_to_scatter_less():
    few, many = np.arange(12.0).reshape(12, 1), np.arange(96.0).reshape(12, 8) / 8
    (_, one), (_, other) = find_displacements([few], [few])[0], find_displacements([many], [many])[0]
    # nothing scatters, so the belief alone is left: 0.02 of the cycle of 1 s, and 0.06 of the step of 1/8 s
    assert one[6, 0] == pytest.approx(0.02 * np.sqrt(3 / (10 - 1 + 27)))
    assert other[6, 4] == pytest.approx(0.06 / 8 * np.sqrt(3 / (12 - 1 + 27)), rel=0.02)


def test_a_moment_that_is_always_missed_has_no_habit():
    late = np.full((8, 2), 0.1)
    late[:, 1] = np.nan
    assert usual_offsets([late])[0].tolist() == [0, 0]

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
    rest = np.column_stack([generator.normal(0, 2, 60), generator.normal(0, 1, 60)])
    scatter = scatter_of_others(rest.ravel(), np.tile([0, 1], 60), in_order(120), usual=1.0).reshape(60, 2)
    assert (scatter[:, 0] > 1.3 * scatter[:, 1]).all()
    # the smaller mean square of the first, drawn towards all with the weight of 24 moments
    assert np.median(scatter[:, 0]) == pytest.approx(np.sqrt((60 * 4 + 24 * 2.5 + 3) / 87), rel=0.15)


def test_the_scatter_is_that_of_the_others():
    rest = np.random.default_rng(5).normal(0, 1, 40)
    before = scatter_of_others(rest, np.zeros(40, dtype=int), in_order(40), usual=1.0)
    rest[20] += 2
    after = scatter_of_others(rest, np.zeros(40, dtype=int), in_order(40), usual=1.0)
    assert after[18:23] == pytest.approx(before[18:23])
    assert (after[:17] > before[:17]).all()


def test_what_is_usual_counts_where_nothing_else_is_known():
    rest = np.full(6, np.nan)
    assert scatter_of_others(rest, np.zeros(6, dtype=int), in_order(6), usual=0.3) == pytest.approx([0.3] * 6)
    rest[2] = 0.01
    assert scatter_of_others(rest, np.zeros(6, dtype=int), in_order(6), usual=0.3)[2] == pytest.approx(0.3)


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


def one_by_one(rest, label, groups, usual):
    """The same with a loop: the others of its label, of all, and what is believed (24 and 3 moments)."""
    known = rest[~np.isnan(rest)]
    smaller = np.sort((known - np.median(known)) ** 2)[: int(np.ceil(0.75 * len(known)))]
    used = ~np.isnan(rest) & (np.abs(rest) <= 3.5 * 1.6483 * np.sqrt(smaller.mean()))
    made = np.empty(len(rest))
    for group in groups:
        for place, k in enumerate(group):
            near = group[max(place - 2, 0) : place + 3]
            others = used.copy()
            others[near] = False
            own = others & (label == label[k])
            every = (rest[others] ** 2).mean() if others.any() else usual**2
            made[k] = np.sqrt(((rest[own] ** 2).sum() + 24 * every + 3 * usual**2) / (own.sum() + 27))
    return made


def test_the_scatter_of_the_others_one_by_one():
    generator = np.random.default_rng(6)
    rest, label = generator.normal(0, 1, 40), np.tile([0, 1, 2, 1], 10)
    rest[[3, 20]] = np.nan
    rest[12] = 9
    groups = [np.arange(0, 40, 2), np.arange(1, 40, 2)]
    ours = scatter_of_others(rest, label, groups, usual=0.7)
    assert ours == pytest.approx(one_by_one(rest, label, groups, 0.7))


def test_what_stands_out_by_hand():
    values = np.array([0.0, 1.0, 5.0, 2.0, 3.0, np.nan, 4.0])
    out, rest = standing_out(values)
    # 5 against (0 + 1)/2 and (2 + 3)/2; 2 against (1 + 5)/2 and (3 + 4)/2; 3 against (5 + 2)/2 and 4
    assert out.tolist() == [0, 0, 2.5, -1, -0.5, 0, 0]
    assert rest[2] == pytest.approx(5 - (0.5 + 2.5) / 2)
    assert rest[3] == pytest.approx(2 - (3 + 3.5) / 2)
    assert np.isnan(rest[[0, 5, 6]]).all()


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
        rest = np.concatenate([standing_out(mine)[1] for mine in off])
    else:
        together, both = standing_out(np.column_stack(off).ravel())
        assert found[0][0].ravel() == pytest.approx(together[0::2])
        assert found[1][0].ravel() == pytest.approx(together[1::2])
        groups = [np.arange(32).reshape(2, 16).T.ravel()]
        rest = both.reshape(16, 2).T.ravel()
    step = 1.0 if apart == 0 else (15 + apart) / 31
    scatter = one_by_one(rest, np.repeat([0, 1], 16), groups, min(0.06 * step, 0.02))
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
    assert one[6, 0] == pytest.approx(0.02 * np.sqrt(3 / (10 - 5 + 27)))
    assert other[6, 4] == pytest.approx(0.06 / 8 * np.sqrt(3 / (12 - 1 + 27)), rel=0.02)

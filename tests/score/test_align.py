"""Takes that lie beside the music as a whole: what is taken out before moments and onsets are paired."""

import numpy as np
import pytest

from tempo_coach.score.align import answer, choose_reach, find_nearest

ONE = np.arange(12.0)  # a moment a cycle, a second apart
TWO = np.sort(np.concatenate([ONE, ONE + 0.3]))  # two moments a cycle, not evenly
CYCLE, CYCLE_OF_TWO = np.arange(12), np.arange(24) // 2


def say(onsets, moments=ONE, cycles=CYCLE):
    return answer(np.asarray(moments), np.asarray(cycles), np.asarray(onsets))


@pytest.mark.parametrize(
    ("moments", "reach"),
    [([0, 0.4, 1.4], 0.18), ([0, 0, 0.4], 0.18), ([0, 1], 0.25), ([0, 0], 0.25), ([3], 0.25), ([], 0.25)],
)
def test_reach_is_a_share_of_the_smallest_step_that_is_one(moments, reach):
    assert choose_reach(np.array(moments, dtype=float)) == pytest.approx(reach)


def test_nearest():
    times, places = np.array([0.0, 1.0, 4.0]), np.array([-3.0, 0.5, 0.6, 2.5, 2.6, 9.0])
    assert find_nearest(times, places).tolist() == [0, 0, 1, 1, 2, 2]


@pytest.mark.parametrize("late", [-0.41, -0.39, -0.2, -0.02, 0, 0.02, 0.2, 0.39, 0.41])
@pytest.mark.parametrize("period", [0.6, 1, 1.5])
@pytest.mark.parametrize(("moments", "cycles"), [(ONE, CYCLE), (TWO, CYCLE_OF_TWO)])
def test_constant_offset_is_found_and_told_where_it_is_half_a_cycle(late, moments, cycles, period):
    said = say((moments + late) * period, moments * period, cycles)
    assert said.onset.tolist() == list(range(len(moments))) and said.extra.size == 0
    assert said.offset == pytest.approx(late * period, abs=1e-9)
    assert said.half_off == (abs(late) > 0.4) and not said.followed and said.slipped == 0


def test_constant_offset_is_the_middle_of_what_scatters():
    assert say(ONE + 0.3 + 0.02 * (-1.0) ** CYCLE).offset == pytest.approx(0.3, abs=1e-9)


@pytest.mark.parametrize("cycles_late", [-3, -1, 1, 2])
def test_whole_cycles_are_slipped_and_not_missed(cycles_late):
    said = say(ONE + cycles_late, cycles=CYCLE + 5)
    assert (said.slipped, said.offset, said.followed) == (cycles_late, 0.0, False)
    # the same with two moments a cycle, and with a constant beside it
    two = say(TWO + cycles_late + 0.1, TWO, CYCLE_OF_TWO)
    assert two.slipped == cycles_late and two.offset == pytest.approx(0.1)


def test_part_of_a_cycle_at_an_end_is_no_slip():
    late = say(np.append(TWO[1:], 12.0), TWO, CYCLE_OF_TWO)
    early = say(np.insert(TWO[:-1], 0, -0.7), TWO, CYCLE_OF_TWO)
    assert late.slipped == early.slipped == 0
    assert late.onset.tolist() == [-1, *range(23)] and late.extra.tolist() == [23]
    assert early.onset.tolist() == [*range(1, 24), -1] and early.extra.tolist() == [0]


@pytest.mark.parametrize("ratio", [0.6, 0.7, 1.1, 1.3, 1.6, 1.9])
@pytest.mark.parametrize(
    ("moments", "cycles"),
    [(ONE, CYCLE), (TWO, CYCLE_OF_TWO), (ONE + 5, CYCLE + 3), (ONE * 0.6, CYCLE), (TWO * 1.5, CYCLE_OF_TWO)],
)
def test_another_tempo_than_asked_is_followed(ratio, moments, cycles):
    said = say(moments[0] + (moments - moments[0]) * ratio, moments, cycles)
    assert said.followed and not said.half_off
    assert said.onset.tolist() == list(range(len(moments))) and said.extra.size == 0
    # the offset wanders in steps, and no more than it has to
    assert said.offset == pytest.approx(np.median((moments - moments[0]) * (ratio - 1)), abs=said.reach / 2)


def test_jump_in_the_middle_is_followed():
    said = say(ONE + np.repeat([0, 0.4], 6))
    assert said.followed and said.onset.tolist() == list(range(12))
    assert said.offset == pytest.approx(0.2, abs=1 / 48)


def test_three_moments_are_too_few_to_follow():
    assert not say([0, 1.3, 2.7], ONE[:3], CYCLE[:3]).followed
    assert say([0, 1.3, 2.7, 4.0], ONE[:4], CYCLE[:4]).followed


@pytest.mark.parametrize("n", [0, 1, 2])
def test_hardly_anything(n):
    said = say(ONE[:n] + 0.1, ONE[:n], CYCLE[:n])
    assert said.onset.tolist() == list(range(n)) and said.extra.size == 0 and said.slipped == 0
    assert said.offset == pytest.approx(0.1 if n == 2 else 0.0)
    assert say([], ONE[:n], CYCLE[:n]).onset.tolist() == [-1] * n
    assert say(ONE[:n], [], []).extra.tolist() == list(range(n))


def test_circle_beyond_the_reach_is_still_its_moments():
    stray = say(np.array([0, 1, 2.4, 3, 4, 5, 6, 7, 8, 9, 10, 11]))
    assert stray.onset.tolist() == list(range(12)) and stray.offset == 0 and stray.followed
    # under a half of the step beside it
    far = say(np.array([0, 1, 2.46, 3, 4, 5, 6, 7, 8, 9, 10, 11]))
    assert far.onset.tolist() == [0, 1, -1, *range(3, 12)] and far.extra.tolist() == [2]


@pytest.mark.parametrize("off", [-0.46, -0.44, -0.3, 0.3, 0.44, 0.46])
def test_circle_beside_the_onset_of_another_moment_is_given_back(off):
    # a step of half a second follows one of a whole: the longer one decides how far is too far
    moments = np.cumsum([0, 0.5, 1, 0.5, 1, 0.5, 1, 0.5, 1, 0.5, 1, 0.5])
    onsets = moments.copy()
    onsets[4] += off
    said = say(onsets, moments, CYCLE // 2)
    if abs(off) < 0.45:
        assert said.onset.tolist() == list(range(12)) and said.extra.size == 0
    else:
        assert said.onset.tolist() == [0, 1, 2, 3, -1, *range(5, 12)] and said.extra.tolist() == [4]


@pytest.mark.parametrize(("far", "paired"), [(1, False), (3, False), (0, True)])
def test_onset_that_was_left_over_further_on_answers_nothing(far, paired):
    said = say(np.sort(np.append(np.delete(ONE, 3), 3.4 + far)))
    assert (said.onset[3] == 3) == paired and (said.onset[3] == -1) == (not paired)
    assert said.extra.size == (not paired)


def test_long_take_is_followed_only_where_much_is_left_alone():
    moments, cycles = np.arange(1100.0), np.arange(1100)
    stray = moments.copy()
    stray[500] += 0.4
    assert not say(stray, moments, cycles).followed and say(stray, moments, cycles).onset[500] == 500
    jump = moments + np.where((cycles > 500) & (cycles < 700), 0.4, 0)
    assert say(jump, moments, cycles).followed and say(jump, moments, cycles).onset.tolist() == cycles.tolist()
    # an offset for 30 cycles of 1100 leaves 60 of 2200 alone, fewer than are followed
    short = moments + np.where((cycles > 500) & (cycles <= 530), 0.4, 0)
    assert not say(short, moments, cycles).followed


def test_two_cycles_are_enough_for_a_period():
    said = say([0.65, 2.15], [0.0, 1.5], [0, 1])
    assert said.half_off and said.offset == pytest.approx(0.65) and said.onset.tolist() == [0, 1]


def test_nearer_one_of_two_offsets_that_fit_alike():
    for near, far in ((0.25, -0.375), (-0.25, 0.375)):
        assert say(np.sort(np.concatenate([ONE + near, ONE + far]))).offset == pytest.approx(near)


@pytest.mark.parametrize("at", [0, 1, 2])
@pytest.mark.parametrize(("off", "paired"), [(0.26, True), (0.28, False)])
def test_how_far_is_too_far_follows_the_step_also_at_the_ends(at, off, paired):
    # 0.45 of a step of 0.6 s is 0.27 s; three moments are too few to follow
    onsets = 0.6 * ONE[:3]
    onsets[at] += -off if at == 0 else off
    said = say(onsets, 0.6 * ONE[:3], CYCLE[:3])
    assert said.onset[at] == (at if paired else -1) and said.extra.size == (not paired)


@pytest.mark.parametrize(("late", "half_off"), [(0.19, False), (0.21, True)])
def test_single_cycle_is_taken_for_half_a_second(late, half_off):
    said = say(np.array([0, 0.5, 1.3]) + late, [0, 0.5, 1.3], [0, 0, 0])
    assert said.offset == pytest.approx(late) and said.half_off == half_off


def test_one_moment_or_one_onset_says_nothing_of_an_offset():
    assert say([0.1, 1.1], [0.0], [0]).offset == say([0.24], [0.0, 1.0], [0, 1]).offset == 0
    # nor does one pair of them
    assert say([0.1, 5.0], [0.0, 1.0], [0, 1]).offset == 0


# Steps within a cycle, each shorter than the one before, so that an onset may be nearer to the next moment and yet
# lie in its own moment's part of the way; the last three or four moments are late, the last one beyond the reach.
BETWEEN = {
    2: ([0, 1.0, 1.6, 2.0], 3.0, [0, 0.44, 0.24, 0.30]),
    3: ([0, 1.9, 2.9, 3.5, 3.9], 5.0, [0, 0.84, 0.43, 0.24, 0.30]),
}


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("between", [2, 3])
def test_moments_are_given_back_their_onsets_over_two_pairs_and_not_over_three(between, mirrored):
    places, period, off = BETWEEN[between]
    n = len(places)
    moments, cycles = np.add.outer(period * np.arange(8), places).ravel(), np.repeat(np.arange(8), n)
    onsets = moments.copy()
    onsets[4 * n : 5 * n] += off
    alone, left = 4 * n + 1, 5 * n - 1  # the moment that nothing answers, and the onset that answers none
    if mirrored:
        moments, onsets, cycles = -moments[::-1], -onsets[::-1], 7 - cycles[::-1]
        alone, left = 8 * n - 1 - alone, 8 * n - 1 - left
    said = say(onsets, moments, cycles)
    assert not said.followed and said.offset == 0
    if between == 2:
        assert said.onset.tolist() == list(range(8 * n)) and said.extra.size == 0
    else:
        assert said.onset[alone] == -1 and said.extra.tolist() == [left]
        assert sorted({*said.onset.tolist(), left}) == list(range(-1, 8 * n))


def test_onset_that_was_given_back_is_not_given_away_again():
    # the second and third moment of a cycle are left alone, and both might take the onset beside the fourth
    moments, cycles = np.add.outer(4 * np.arange(8.0), [0, 1.8, 2.35, 2.75]).ravel(), np.arange(32) // 4
    onsets = moments.copy()
    onsets[17:20] = 16 + np.array([2.58, 2.95, 3.1])
    said = say(onsets, moments, cycles)
    assert said.onset[16:21].tolist() == [16, 17, -1, 18, 20] and said.extra.tolist() == [19]


def test_nearest_onset_that_was_left_over_is_taken():
    # one too early, with the answer of a neighbour between, and one that is only late
    moments, cycles = np.add.outer(2.4 * np.arange(8), [0, 1.0, 1.4]).ravel(), np.arange(24) // 3
    onsets = np.sort(np.append(np.delete(moments, 11), moments[9] + np.array([0.75, 1.7])))
    said = say(onsets, moments, cycles)
    assert said.onset[9:13].tolist() == [9, 11, 12, 13] and said.extra.tolist() == [10]


def test_take_that_runs_ahead_by_more_than_half_a_cycle_is_followed_round_it():
    early = np.repeat([0, 0.4, 1.18], [6, 5, 1])
    said = say(np.append(1.7 * ONE - early, 1.7 * 12 - 1.18), 1.7 * ONE)
    assert said.followed and said.onset.tolist() == list(range(12)) and said.extra.tolist() == [12]


def test_one_cycle_alone_says_nothing_of_the_tempo():
    said = say([0, 2, 4, 6], np.arange(4.0), np.zeros(4, dtype=int))
    assert said.onset.tolist() == [0, -1, 1, -1] and said.extra.tolist() == [2, 3]


def test_cycles_may_be_numbered_from_below_0():
    assert say(1.6 * ONE, cycles=CYCLE - 3).onset.tolist() == list(range(12))
    assert say(ONE + 1, cycles=CYCLE - 3).slipped == 1


@pytest.mark.parametrize("onsets", [np.arange(-1, 12.0), np.arange(13.0), ONE[1:], ONE[:-1]])
def test_cycle_more_or_less_at_one_end_is_no_slip(onsets):
    assert say(onsets).slipped == 0


def test_onset_within_the_take_is_no_slip_wherever_the_take_lies():
    late, early = np.insert(ONE[1:] + 0.3, 10, 11.1), np.insert(ONE[:-1] - 0.3, 1, -0.1)
    for onsets, offset, missed in ((late, 0.3, 0), (early, -0.3, 11)):
        said = say(onsets)
        assert (said.slipped, said.offset) == (0, pytest.approx(offset))
        assert np.flatnonzero(said.onset < 0).tolist() == [missed] and said.extra.size == 1


def test_jump_is_followed_though_every_onset_is_heard_twice():
    # the onsets alone would say that the take is twice as fast
    once = ONE + np.repeat([0, 0.4], 6)
    said = say(np.sort(np.concatenate([once, once + 0.05])))
    assert said.followed and (said.onset // 2).tolist() == list(range(12)) and said.extra.size == 12


@pytest.mark.parametrize("steps_late", [2, -2])
def test_onsets_are_given_back_in_a_take_that_is_late_as_a_whole(steps_late):
    places, period, off = BETWEEN[2]
    moments, cycles = np.add.outer(period * np.arange(8), places).ravel(), np.arange(32) // 4
    late = steps_late * period / 2 / 17  # offsets are tried in such steps: seventeen reaches of 0.18 s are a cycle
    onsets = moments + late
    onsets[16:20] += off
    said = say(onsets, moments, cycles)
    assert said.offset == pytest.approx(late) and not said.followed
    assert said.onset.tolist() == list(range(32)) and said.extra.size == 0


@pytest.mark.parametrize("period", [0.3, 0.5])
@pytest.mark.parametrize(("jitter", "taken"), [(0.9, 1), (1.1, -2)])
def test_nearer_offset_may_fit_a_little_worse(period, jitter, taken):
    # tried in steps of a third of half a period; the nearer one by a step may cost a third of 0.05 reaches more
    moments, step = period * np.arange(40), period / 6
    worse = jitter * 0.05 / 3 * 0.45 * period * np.resize([1, -1], 40)
    onsets = np.sort(np.concatenate([moments + step + worse, moments - 2 * step]))
    assert say(onsets, moments, np.arange(40)).offset == pytest.approx(taken * step, abs=1e-3)


def test_jump_of_uneven_circles_is_followed_though_every_onset_is_heard_twice():
    moments, cycles = np.add.outer(np.arange(12.0), [0, 0.35]).ravel(), np.arange(24) // 2
    once = moments + np.repeat([0, 0.45], 12)
    said = say(np.sort(np.concatenate([once, once + 0.04])), moments, cycles)
    assert said.followed and (said.onset // 2).tolist() == list(range(24))


def test_onset_at_the_very_begin_or_end_of_a_late_take_is_no_slip():
    # one onset is missed at the other end, and one stands where the last or the first one does
    for onsets in (np.append(ONE[1:], 11.0), np.insert(ONE[:-1], 0, 0.0)):
        said = say(onsets)
        assert said.slipped == 0 and said.extra.size == 1

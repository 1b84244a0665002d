"""Frames against clocks, and where sound was lost: with invented records whose truth is known."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tempo_coach.live.audio.device_clock import DeviceClock
from tempo_coach.live.audio.gapless import SETTLING
from tempo_coach.live.audio.timeline import Gap, OutputLatency, Timeline

RATE = 48_000
BLOCK = 1_200


def blocks(
    timeline: Timeline,
    count: int,
    *,
    first: int = 0,
    at: float = 1000.0,
    ppm: float = 0.0,
    scatter: float = 0.0,
    ahead: float = 0.1,
    underrun_at: int | None = None,
    seed: int = 0,
) -> None:
    """Feed blocks of a device that hears frame 0 at ``at`` and runs that much fast."""
    rng = np.random.default_rng(seed)
    for block in range(first, first + count):
        heard = at + block * BLOCK / RATE / (1 + ppm * 1e-6)
        said = heard + scatter * rng.normal()
        timeline.add(block * BLOCK, BLOCK, said, heard - ahead, underrun=block == underrun_at)


@pytest.mark.parametrize("ppm", [0.0, 160.0, -300.0])
def test_a_stamp_gives_the_frame_that_was_heard_then_on_a_device_of_any_speed(ppm: float):
    timeline = Timeline(RATE)
    blocks(timeline, 1200, ppm=ppm, scatter=0.00012)
    for stamp in (1000.7, 1012.0, 1029.9):
        assert timeline.take_time(stamp) == pytest.approx((stamp - 1000) * (1 + ppm * 1e-6), abs=0.0001)
    assert timeline.gaps == []
    assert timeline.output_latency.seconds == pytest.approx(0.1 + BLOCK / RATE, abs=0.0001)
    assert timeline.output_latency.share == 1.0 and timeline.output_latency.known


def test_with_perfect_times_the_answer_is_exact():
    timeline = Timeline(RATE)
    blocks(timeline, 400)
    assert timeline.take_time(1003.25) == pytest.approx(3.25, abs=1e-9)
    assert timeline.take_time(999.5) == pytest.approx(-0.5, abs=1e-9)


def test_the_first_half_second_of_a_device_that_settles_is_left_out_once_there_is_more():
    timeline = Timeline(RATE)
    settling = int(SETTLING * RATE / BLOCK)
    blocks(timeline, settling, at=1000.03)
    blocks(timeline, 200, first=settling + 1)
    assert timeline.take_time(1003.0) == pytest.approx(3.0, abs=1e-6)


@pytest.mark.parametrize("shift", [0.002, 0.04, 0.17])
def test_a_lasting_shift_is_a_gap_also_where_the_driver_does_not_say_so(shift: float):
    timeline = Timeline(RATE)
    blocks(timeline, 200, scatter=0.0001)
    blocks(timeline, 200, first=200, at=1000.0 + shift, scatter=0.0001, seed=1)
    assert len(timeline.gaps) == 1
    gap = timeline.gaps[0]
    assert gap.silence == pytest.approx(shift, abs=0.0005)
    assert gap.start <= 5.0 <= gap.end
    assert not timeline.measurable(5.0)
    assert timeline.measurable(gap.start - 0.01)
    assert timeline.measurable(gap.end)
    # Before the gap the old line holds, after it the new one.
    assert timeline.take_time(1004.5) == pytest.approx(4.5, abs=0.0002)
    assert timeline.take_time(1008.0) == pytest.approx(8.0 - shift, abs=0.0002)


def test_what_was_stamped_within_the_silence_has_no_place_on_the_take_clock():
    timeline = Timeline(RATE)
    blocks(timeline, 200)
    blocks(timeline, 200, first=200, at=1000.4)
    assert math.isnan(timeline.take_time(1005.2))
    assert not timeline.measurable(math.nan)


def test_a_device_that_states_odd_times_moves_nothing():
    timeline = Timeline(RATE)
    blocks(timeline, 200, scatter=0.0001)
    for odd in range(30):
        heard = 1000 + (200 + odd) * BLOCK / RATE
        timeline.add((200 + odd) * BLOCK, BLOCK, heard + 0.02, heard - 0.1)
    blocks(timeline, 200, first=230, scatter=0.0001)
    assert timeline.gaps == []
    assert timeline.take_time(1008.0) == pytest.approx(8.0, abs=0.0001)


def busy(timeline: Timeline, *, lost_at: float, lost: float = 0.0, wait: float = 0.15, seed: int = 0) -> None:
    """Feed 20 s as a starved process sees them: requests late by up to 60 ms, statements off by 100 ms at first."""
    rng = np.random.default_rng(seed)
    for block in range(800):
        time = (block + 1) * BLOCK / RATE + lost * (block * BLOCK / RATE >= lost_at)
        late = 0.0 if rng.random() < 0.4 else rng.uniform(0.0, 0.06)
        wrong = -0.1 * math.exp(-time / 3) + rng.uniform(-0.01, 0.01)
        timeline.add(block * BLOCK, BLOCK, 1000 + time + wait - BLOCK / RATE + wrong, 1000 + time + late)


@pytest.mark.parametrize("seed", range(5))
def test_on_a_busy_machine_the_line_is_that_of_the_earliest_requests(seed: int):
    timeline = Timeline(RATE, OutputLatency(0.15, 1.0, 20))
    busy(timeline, lost_at=math.inf, seed=seed)
    assert timeline.close(1020.1) == pytest.approx(19.95, abs=0.0005)
    assert timeline.gaps == []
    assert not Timeline(RATE).output_latency.known
    off = [timeline.take_time(1000 + t) - (t - 0.15) for t in np.arange(1.0, 19.0, 0.37)]
    assert np.abs(off).max() < 0.0005, "a device may be off by a tenth of a second and the take is not"


@pytest.mark.parametrize("lost", [0.005, 0.032, 0.25])
def test_on_a_busy_machine_only_what_was_lost_is_a_gap(lost: float):
    timeline = Timeline(RATE, OutputLatency(0.15, 1.0, 20))
    busy(timeline, lost_at=8.0, lost=lost)
    timeline.close(1020.0)
    assert len(timeline.gaps) == 1
    gap = timeline.gaps[0]
    assert 7.8 < gap.start <= 8.0 <= gap.end < 8.7
    assert gap.silence == pytest.approx(lost, abs=0.001) or lost > 0.1
    assert timeline.take_time(1006.0) == pytest.approx(5.85, abs=0.0005)
    assert timeline.take_time(1015.0) == pytest.approx(14.85 - lost, abs=0.0005)


def test_how_long_a_block_waits_is_unknown_where_the_device_contradicts_itself():
    timeline = Timeline(RATE)
    busy(timeline, lost_at=math.inf)
    assert not timeline.output_latency.known
    earlier = Timeline(RATE, OutputLatency(0.15, 1.0, 20))
    busy(earlier, lost_at=math.inf)
    assert earlier.output_latency == OutputLatency(0.15, 1.0, 20)


def test_statements_are_the_line_where_a_driver_polls():
    timeline = Timeline(RATE)
    rng = np.random.default_rng(3)
    for block in range(800):
        heard = 1000 + block * BLOCK / RATE
        asked = 0.2 * math.floor((heard - 0.5) / 0.2 + 1) + 0.03 * rng.random()
        timeline.add(block * BLOCK, BLOCK, heard + 0.0002 * rng.normal(), asked)
    assert timeline.gaps == []
    assert timeline.take_time(1010.0) == pytest.approx(10.0, abs=0.001)


def test_the_drivers_word_is_taken_at_once():
    timeline = Timeline(RATE)
    blocks(timeline, 400, underrun_at=200)
    assert [(gap.start, gap.end) for gap in timeline.gaps] == [(pytest.approx(198 * BLOCK / RATE), 5.0 + SETTLING)]


def test_the_last_sample_before_a_loss_is_not_called_measurable_either():
    timeline = Timeline(RATE)
    blocks(timeline, 40)
    # the block that was lost is the one before that of which the driver says so
    blocks(timeline, 200, first=40, at=1000.2, underrun_at=41)
    assert not timeline.measurable((40 * BLOCK - 1) / RATE)


def test_a_loss_that_nothing_but_its_step_tells_is_found_though_another_follows_at_once():
    timeline = Timeline(RATE)
    blocks(timeline, 44)
    blocks(timeline, 82, first=44, at=1000.097)
    blocks(timeline, 200, first=126, at=1000.142, underrun_at=127)
    assert not timeline.measurable(43.9 * BLOCK / RATE)
    assert not timeline.measurable(126 * BLOCK / RATE)
    assert len(timeline.gaps) == 2


@pytest.mark.parametrize("ahead", [0.0009, -0.002])
def test_a_block_that_came_just_in_time_was_not_lost(ahead: float):
    """By two milliseconds after it should have been heard, as a device said at a load of 14, and none was lost."""
    timeline = Timeline(RATE, OutputLatency(0.125, 1.0, 20))
    blocks(timeline, 200)
    blocks(timeline, 1, first=200, ahead=ahead)
    blocks(timeline, 200, first=201)
    timeline.close(1010.1)
    assert timeline.gaps == []


def test_a_loss_of_which_a_late_request_tells_and_then_the_driver_is_one():
    timeline = Timeline(RATE)
    blocks(timeline, 200)
    blocks(timeline, 200, first=200, at=1000.15, underrun_at=201)
    assert len(timeline.gaps) == 1
    gap = timeline.gaps[0]
    assert gap.start <= 5.0 - 1 / RATE and gap.end == pytest.approx(5.0 + BLOCK / RATE + SETTLING)
    assert gap.silence == pytest.approx(0.15, abs=0.01)
    blocks(timeline, 200, first=400, at=1000.35, underrun_at=401)
    assert len(timeline.gaps) == 2, "another loss is another"


def test_a_block_that_is_asked_for_after_it_should_have_been_heard_was_lost():
    timeline = Timeline(RATE)
    blocks(timeline, 200)
    blocks(timeline, 1, first=200, ahead=-0.03)
    assert len(timeline.gaps) == 1


def test_two_losses_in_quick_succession_are_both_marked():
    # as heard beside eight busy processes: 25 ms are lost and nobody says so, and 1.5 s later a block comes too late
    timeline = Timeline(RATE)
    blocks(timeline, 300)
    blocks(timeline, 60, first=300, at=1000.025)
    blocks(timeline, 1, first=360, at=1000.025, ahead=-0.03)
    assert [round(gap.start * RATE / BLOCK) for gap in timeline.gaps] == [298, 358]
    assert timeline.gaps[0].silence == pytest.approx(0.025, abs=0.001)


def test_who_asks_for_nothing_until_all_that_was_kept_ready_is_gone_has_lost_sound():
    # 0.63 s after the device was opened: nothing else tells of it yet
    timeline = Timeline(RATE)
    asked = np.concatenate([np.arange(24) * 0.025, 0.716 + np.arange(100) * 0.025])
    for block, now in enumerate(asked):
        timeline.add(block * BLOCK, BLOCK, 1000.125 + now, 1000 + now, kept=0.1)
    assert [(gap.start, gap.end) for gap in timeline.gaps] == [
        (pytest.approx(22 * BLOCK / RATE), 24 * BLOCK / RATE + SETTLING)
    ]
    kept = Timeline(RATE)
    asked[24:] -= 0.02
    for block, now in enumerate(asked):
        kept.add(block * BLOCK, BLOCK, 1000.125 + now, 1000 + now, kept=0.1)
    assert kept.gaps == []


def starved(late: dict[int, float], *, since: dict[int, float], count: int = 400) -> Timeline:
    """A device of which the latency is known, whose requests come late by so much, or from a block on."""
    rng, timeline = np.random.default_rng(2), Timeline(RATE, OutputLatency(0.147, 1.0, 20))
    for block in range(count):
        due = 1000 + block * BLOCK / RATE + sum(step for begun, step in since.items() if block >= begun)
        now = due + max(late.get(block, 0.0), late.get(block - 1, 0.0) - BLOCK / RATE, 0.0) + rng.exponential(3e-5)
        timeline.add(block * BLOCK, BLOCK, due + 0.122, now, kept=0.1)
    timeline.close(1000 + count * BLOCK / RATE + 0.2)
    return timeline


def test_a_loss_that_the_server_filled_in_nearly_whole_is_marked():
    """As heard at a load of 20: a block 98 ms late is lost for 24, and what comes after it is 1 ms late."""
    (gap,) = starved({200: 0.098}, since={201: 0.00096}).gaps
    assert gap.start <= 200 * BLOCK / RATE and gap.end >= 201 * BLOCK / RATE
    assert starved({200: 0.087}, since={201: 0.0001}).gaps == [], "so late, and in time"
    assert starved({}, since={201: 0.0005}).gaps == [], "nothing came late: a device that wanders"


def test_a_loss_is_found_though_the_next_follows_before_half_a_second_is_over():
    # the first makes all that follows 20 ms late, the second comes .3 s after it
    timeline = starved({204: 0.11, 216: 0.2}, since={204: 0.02, 217: 0.08})
    for lost in (204, 216):
        assert not timeline.measurable(lost * BLOCK / RATE)


def test_in_the_first_second_a_step_tells_too_whether_a_block_that_came_at_the_last_moment_was_lost():
    """As heard at a load of 14: 20 ms were lost in one take, and nothing in another, with requests as late as these."""
    (gap,) = starved({19: 0.125}, since={20: 0.0047}).gaps
    assert gap.start <= 19 * BLOCK / RATE < gap.end
    assert starved({19: 0.125}, since={}).gaps == []


def test_what_is_late_by_the_line_before_a_loss_is_in_time_by_the_one_after_it():
    """A loss just after the start, of which the next request tells that is a little late itself."""
    assert len(starved({14: 0.02}, since={8: 0.165}, count=120).gaps) == 1


def test_before_anything_was_played_there_is_no_take_time():
    timeline = Timeline(RATE)
    assert math.isnan(timeline.take_time(5.0))
    assert math.isnan(timeline.close(5.0))
    assert math.isnan(timeline.output_latency.seconds) and not timeline.output_latency.known


def test_one_block_is_enough_to_begin_with():
    timeline = Timeline(RATE)
    blocks(timeline, 1)
    assert timeline.take_time(1000.25) == pytest.approx(0.25, abs=1e-9)


def test_after_the_sound_went_away_time_stands_and_a_new_stretch_goes_on():
    timeline = Timeline(RATE)
    blocks(timeline, 100)
    assert timeline.close(1002.4) == pytest.approx(2.4, abs=1e-6)
    assert math.isnan(timeline.take_time(1002.5))
    blocks(timeline, 100, first=96, at=1010.0)
    assert timeline.gaps == []
    assert timeline.take_time(1013.0) == pytest.approx(3.0, abs=1e-6)
    assert timeline.take_time(1001.0) == pytest.approx(1.0, abs=1e-6)


def test_time_closes_no_later_than_the_last_frame_that_was_handed_over():
    timeline = Timeline(RATE)
    blocks(timeline, 100)
    assert timeline.close(1050.0) == pytest.approx(100 * BLOCK / RATE)


def test_a_gap_says_where_it_is():
    assert Gap(1.0, 2.0, 0.1) == Gap(1.0, 2.0, 0.1)


@pytest.mark.parametrize("origin", [0.5, -4000.0, 1.8e9])
def test_a_devices_clock_may_count_from_anywhere(origin: float):
    clock = DeviceClock()
    for second in range(12):
        clock.add(1000.0 + second, origin + second * (1 + 50e-6))
    assert clock.heard(origin + 11 * (1 + 50e-6) + 0.1, 1011.0, 0.3) == pytest.approx(1011.1, abs=1e-5)


def test_a_device_that_says_nothing_is_helped_by_the_latency():
    clock = DeviceClock()
    clock.add(1000.0, 0.0)
    assert clock.heard(0.0, 1000.0, 0.25) == 1000.25
    told = DeviceClock()
    told.add(1000.0, 5.0)
    assert told.heard(0.0, 1000.0, 0.25) == 1000.25


def test_a_device_whose_time_stands_still_or_is_out_of_reach_is_not_believed():
    clock = DeviceClock()
    clock.add(1000.0, 5.0)
    assert clock.heard(5.1, 1000.0, 0.25) == pytest.approx(1000.1)
    assert clock.heard(5.1, 1000.1, 0.25) == pytest.approx(1000.35)
    assert clock.heard(99.0, 1000.2, 0.25) == pytest.approx(1000.45)


def test_somebody_who_sets_the_wall_clock_moves_nothing():
    clock = DeviceClock()
    for second in range(5):
        clock.add(1000.0 + second, 1.8e9 + second)
    clock.add(1005.0, 1.8e9 + 5 + 3600)
    assert clock.heard(1.8e9 + 3605.1, 1005.0, 0.3) == pytest.approx(1005.1, abs=1e-6)

"""A drill laid on counts: where its moments fall, what is heard, and what cannot be laid."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach import coach
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.pattern.plan.layout import cut_short, lay_out
from tests.pattern.made_up import MUSIC, make_drill, paused_music
from tests.refused import refused


def test_without_music_the_lead_in_is_a_whole_eight_of_which_5_6_7_8_is_heard():
    plan = lay_out(make_drill(), CountMap.steady(120), tempo_bpm=120, cycles=2)
    assert plan.start == pytest.approx(4.0)
    np.testing.assert_allclose(plan.moments.time, [5.0, 7.0])
    heard = [t for t, s in zip(plan.cues.time, plan.cues.sound, strict=True) if s == "count"]
    np.testing.assert_allclose(heard, [2.0, 2.5, 3.0, 3.5])
    assert plan.duration == pytest.approx(8.0)


def test_with_music_that_has_been_playing_the_lead_in_is_the_music_itself():
    plan = lay_out(make_drill(), paused_music(), music=MUSIC, from_eight=3, eights=1)
    # eight 3 begins at count 16 = 12.0 s; eight counts before it lie 1.5 counts' worth and a pause earlier
    assert plan.pieces == ((0.0, 5.0, 1.0),)
    assert plan.start == pytest.approx(7.0)
    assert plan.pieces[0].music_start + plan.moments.time[0] == pytest.approx(13.0)


def test_music_that_starts_at_once_is_led_into_by_silence():
    plan = lay_out(make_drill(), paused_music(), music=MUSIC, from_eight=1, eights=1)
    assert plan.pieces[0].music_start == pytest.approx(1.0 - 8 * 0.5)
    assert plan.start == pytest.approx(4.0)


def test_a_moment_on_the_count_behind_a_pause_waits_for_the_music():
    drill = make_drill(cycle_counts=1.0)
    plan = lay_out(drill, paused_music(), music=MUSIC, from_eight=1, eights=2)
    music_time = plan.moments.time + plan.pieces[0].music_start
    np.testing.assert_allclose(music_time[10:13], [6.25, 6.75, 10.25])
    standing = plan.counts_at(np.array([7.5, 9.5]) - plan.pieces[0].music_start)
    np.testing.assert_allclose(standing, [12, 12])


def test_slower_music_keeps_the_counts_and_stretches_the_take_clock():
    full = lay_out(make_drill(), paused_music(), music=MUSIC, from_eight=2, eights=2)
    slow = lay_out(make_drill(), paused_music(), music=MUSIC, from_eight=2, eights=2, speed=0.8)
    np.testing.assert_allclose(slow.moments.time, full.moments.time / 0.8)
    np.testing.assert_allclose(slow.moments.count, full.moments.count)


def test_three_counts_run_on_through_the_eight_or_restart_with_it():
    runs_on = lay_out(make_drill(3.0), CountMap.steady(60), cycles=5, lead_in_counts=0)
    np.testing.assert_allclose(runs_on.moments.count, [1.5, 4.5, 7.5, 10.5, 13.5])
    restarts = lay_out(make_drill(3.0, restart="eight"), CountMap.steady(60), cycles=5, lead_in_counts=0)
    np.testing.assert_allclose(restarts.moments.count, [1.5, 4.5, 9.5, 12.5, 17.5])


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"speed": 0.2}, "speed of 0.5 to 1.2"),
        ({"from_eight": 0}, "--from-eight"),
        ({"cycles": 0}, "--cycles"),
        ({"eights": 9}, "music ends in eight 6"),
        ({"from_eight": 7}, "no whole cycle of 4 counts fits"),
        ({"lead_in_counts": -1}, "lead-in of 0 to 32 counts, got -1"),
    ],
)
def test_a_passage_that_cannot_be_is_refused(options, words):
    with refused(words):
        lay_out(make_drill(), paused_music(), music=MUSIC, **options)


@pytest.mark.parametrize("tempo", [0.0, 1000.0, -5.0, float("nan")])
def test_a_tempo_nobody_counts_at_is_refused(tempo):
    with refused("20 to 400 beats a minute"):
        coach.lay(coach.Request("clubs_mills", tempo_bpm=tempo))


@given(st.floats(20, 400), st.integers(1, 20), st.sampled_from([1.0, 1.5, 3.0, 4.0]), st.integers(1, 4))
def test_every_cycle_has_all_its_moments_a_cycle_apart(tempo, cycles, cycle_counts, circles):
    plan = lay_out(make_drill(cycle_counts, circles), CountMap.steady(tempo), tempo_bpm=tempo, cycles=cycles)
    assert len(plan.moments) == cycles * circles
    anchors = plan.moments.time[::circles]
    np.testing.assert_allclose(np.diff(anchors), cycle_counts * 60 / tempo)
    assert plan.cycles == cycles


def test_ended_early_only_the_cycles_that_were_over_are_left():
    plan = lay_out(make_drill(circles=2), CountMap.steady(60), tempo_bpm=60, cycles=3, lead_in_counts=0)
    np.testing.assert_allclose(plan.moments.time, [1, 3, 5, 7, 9, 11])
    short = cut_short(plan, 8.5)
    np.testing.assert_allclose(short.moments.time, [1, 3, 5, 7])
    assert (short.cycles, short.duration) == (2, 8.5)
    assert cut_short(plan, 6.0).cycles == 1  # its second cycle was not over
    assert cut_short(plan, 11.0) is plan
    assert len(cut_short(plan, -1.0).moments) == 0 and cut_short(plan, -1.0).duration == 0

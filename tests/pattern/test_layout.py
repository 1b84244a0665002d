import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach import coach
from tempo_coach.errors import CoachError
from tempo_coach.music.countmap import CountMap, Place
from tempo_coach.pattern.layout import lay_out
from tempo_coach.pattern.pattern import Hand, Pattern, Phase, place_moments
from tempo_coach.pattern.plan import Music
from tempo_coach.pattern.planfile import plan_from_dict, plan_to_dict, read_plan
from tempo_coach.pattern.practice import Drill, Practice

MUSIC = Music("/invented/music.wav", "0" * 64)


def make_drill(cycle_counts=4.0, circles=1, restart="never", **practice):
    phases = (Phase("circle", 0, cycle_counts),)
    hand = Hand("right", place_moments(phases, {"circle": circles}))
    return Drill("made", "Made up", "rope", Pattern(cycle_counts, phases, (hand,), None, restart), Practice(**practice))


def paused_music(beats=48):
    """Half a second a beat, a pause of 3 s after the first 12 counts are over."""
    times = 1.0 + 0.5 * np.arange(beats, dtype=float)
    times[12:] += 3.0
    return CountMap(times, tuple((8 * k, 8) for k in range(beats // 8)), ((7.0, 10.0),))


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
    ("way", "cued"),
    [("all", [1, 1, 1, 1, 1, 1]), ("alternate", [1, 1, 0, 0, 1, 1]), ("ones", [1, 0] * 3), ("none", [0] * 6)],
)
def test_cues_are_thinned_as_asked(way, cued):
    plan = lay_out(make_drill(circles=2), CountMap.steady(100), cycles=3, cues=way)
    assert plan.moments.cue.tolist() == [bool(each) for each in cued]
    sounds = list(plan.cues.sound)
    assert sounds.count("first_hand") == sum(cued)
    assert sounds.count("count") == 4
    assert sounds.count("one") == (0 if way == "none" else 2)


def test_places_are_told_in_eights_and_counts():
    plan = lay_out(make_drill(), paused_music(), music=MUSIC, from_eight=2, eights=2)
    assert plan.place(8) == Place(2, 1)
    assert plan.place(18.5) == Place(3, 3.5)
    assert plan.place(7) == Place(1, 8)
    assert plan.place(24) == Place(4, 1)  # behind the passage


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"speed": 0.2}, "speed of 0.5 to 1.2"),
        ({"from_eight": 0}, "--from-eight"),
        ({"cycles": 0}, "--cycles"),
        ({"eights": 9}, "music ends in eight 6"),
        ({"from_eight": 7}, "no whole cycle|music ends"),
        ({"lead_in_counts": -1}, "lead-in"),
    ],
)
def test_a_passage_that_cannot_be_is_refused(options, words):
    with pytest.raises(CoachError, match=words):
        lay_out(make_drill(), paused_music(), music=MUSIC, **options)


@pytest.mark.parametrize("tempo", [0.0, 1000.0, -5.0, float("nan")])
def test_a_tempo_nobody_counts_at_is_refused(tempo):
    with pytest.raises(CoachError, match="20 to 400 beats a minute"):
        coach.lay(coach.Request("clubs_mills", tempo_bpm=tempo))


def test_a_plan_comes_back_from_its_file_as_it_was(tmp_path):
    plan = lay_out(make_drill(circles=2), paused_music(), music=MUSIC, from_eight=2, eights=2, speed=0.9)
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(plan_to_dict(plan)))
    again = read_plan(path)
    assert plan_to_dict(again) == plan_to_dict(plan)
    assert again.place(18) == plan.place(18)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda d: d | {"version": 99}, "version 1, found version 99"),
        (lambda d: {k: v for k, v in d.items() if k != "moments"}, "'moments' is missing"),
        (lambda d: {k: v for k, v in d.items() if k != "version"}, "something else"),
        (lambda d: d | {"moments": 3}, "not a whole plan"),
        (lambda d: d | {"tempo": None}, "neither a tempo nor a piece of music"),
        (lambda d: d | {"hands": ["foot"]}, "unknown hands"),
        (lambda d: [], "something else"),
    ],
)
def test_a_plan_that_is_none_gets_one_sentence(change, words):
    data = plan_to_dict(lay_out(make_drill(), CountMap.steady(100), tempo_bpm=100))
    with pytest.raises(CoachError, match=words):
        plan_from_dict(change(data), where="plan.json")


@given(st.floats(20, 400), st.integers(1, 20), st.sampled_from([1.0, 1.5, 3.0, 4.0]), st.integers(1, 4))
def test_every_cycle_has_all_its_moments_a_cycle_apart(tempo, cycles, cycle_counts, circles):
    plan = lay_out(make_drill(cycle_counts, circles), CountMap.steady(tempo), tempo_bpm=tempo, cycles=cycles)
    assert len(plan.moments) == cycles * circles
    anchors = plan.moments.time[::circles]
    np.testing.assert_allclose(np.diff(anchors), cycle_counts * 60 / tempo)
    assert plan.cycles == cycles

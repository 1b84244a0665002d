"""The drills that come with the program: each is whole, lies on counts, plays, and can be thrown."""

import tomllib

import numpy as np
import pytest

from tempo_coach.coach import cue_sound
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.drill.drill import CLOSEST_CLICK
from tempo_coach.pattern.drill.drill_file import list_drills, pattern_data, read_drill
from tempo_coach.pattern.drill.pattern import SAME_PLACE
from tempo_coach.pattern.plan.cues import HAND_SOUNDS
from tempo_coach.pattern.plan.layout import lay_out
from tempo_coach.pattern.toss.solver import solve_toss
from tempo_coach.report.pages.library import library_table
from tempo_coach.score.card import judge

PATHS = list(list_drills())
DRILLS = [read_drill(path) for path in PATHS]
each_drill = pytest.mark.parametrize("drill", DRILLS, ids=lambda drill: drill.name)

# Low halls of clubs are about 8 m high; a toss in the library stays well below. Common practice.
LOW_HALL_M = 7.5
# A wrist turns a club, a rope or a stick at most about seven times a second; common practice.
FASTEST_CIRCLES_S = 0.14


def plan_of(drill, tempo):
    return lay_out(drill, CountMap.steady(tempo), tempo_bpm=tempo, cycles=8)


def test_there_are_drills_for_all_five_apparatus():
    kinds = [drill.apparatus for drill in DRILLS]
    assert len(DRILLS) >= 18
    for apparatus in ("rope", "hoop", "ball", "clubs", "ribbon"):
        assert kinds.count(apparatus) >= 3
    assert len({drill.title for drill in DRILLS}) == len(DRILLS)


@each_drill
def test_each_says_all_that_a_coach_asks(drill):
    for text in (drill.title, drill.trains, drill.caution, drill.source):
        assert text
    assert len(drill.faults) >= 1
    assert all(fault and say for fault, say in drill.faults)
    slow, fast = drill.practice.tempi_bpm
    assert slow < drill.practice.tempo_bpm < fast
    for hand in drill.pattern.hands:
        assert hand.plane
        assert hand.direction
    assert drill.pattern.phases


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_each_file_begins_with_what_it_is_and_uses_tempi_that_it_names(path):
    text = path.read_text(encoding="utf-8")
    assert text.startswith("# ")
    assert {"tempo", "slowest", "fastest"} <= set(tomllib.loads(text)["practice"])
    assert "cycle" in pattern_data(path)


@each_drill
def test_each_lies_on_counts_at_all_its_tempi(drill):
    for tempo in (drill.practice.tempo_bpm, *drill.practice.tempi_bpm):
        plan = plan_of(drill, tempo)
        per_cycle = sum(len(hand.moments) for hand in drill.pattern.hands)
        assert len(plan.moments) == 8 * per_cycle
        for hand in drill.pattern.hand_names:
            times = plan.moments.time[np.array(plan.moments.hand) == hand]
            assert np.diff(times).min() >= FASTEST_CIRCLES_S
            # exact: cycle k begins k cycles of counts after the lead-in
            first = times[:: len(times) // 8]
            assert np.allclose(np.diff(first), drill.pattern.cycle_counts * 60 / tempo, atol=1e-9)


@each_drill
def test_the_mirrored_drill_exchanges_left_and_right(drill):
    mirrored = drill.pattern.mirrored()
    assert mirrored.mirrored() == drill.pattern
    assert [hand.moments for hand in mirrored.hands] == [hand.moments for hand in drill.pattern.hands]


@each_drill
def test_every_moment_has_its_cue_and_none_is_too_close_to_the_next_of_its_hand(drill):
    plan = plan_of(drill, drill.practice.tempo_bpm)
    sound = np.array(plan.cues.sound)
    for hand, name in zip(drill.pattern.hand_names, HAND_SOUNDS, strict=False):
        times = plan.cues.time[sound == name]
        np.testing.assert_array_equal(times, plan.moments.time[plan.moments.of_hand(hand)])
        assert np.diff(times).min() >= CLOSEST_CLICK
    assert len(drill.pattern.hand_names) <= len(HAND_SOUNDS)
    assert plan.duration >= plan.moments.time[-1]


def flight_counts(drill):
    """How many counts a drill's phase called ``flight`` lasts; None where nothing flies."""
    return next((phase.length for phase in drill.pattern.phases if phase.name == "flight"), None)


@pytest.mark.parametrize("drill", [each for each in DRILLS if flight_counts(each)], ids=lambda drill: drill.name)
def test_what_flies_can_be_thrown_under_a_low_roof(drill):
    counts = flight_counts(drill)
    release = 0.8 if drill.name == "ball_flip" else 1.8 if counts > 2 else 1.2
    for tempo in drill.practice.tempi_bpm:
        rise = solve_toss(counts=counts, tempo_bpm=tempo, release_m=release, catch_m=1.2).rise_m
        assert 0.05 < rise + release < LOW_HALL_M
    moments = [m for hand in drill.pattern.hands[:1] for m in hand.moments if m.kind in ("release", "catch")]
    assert moments[1].at - moments[0].at == pytest.approx(counts)


@each_drill
def test_each_scores_a_generated_take_of_its_own(drill):
    # an invented gymnast: 20 ms early with a spread of 8 ms, and nothing missed
    plan = plan_of(drill, drill.practice.tempo_bpm)
    wobble = np.random.default_rng(8).normal(-0.020, 0.008, len(plan.moments))
    onsets = Onsets.unsorted(plan.moments.time + wobble, plan.moments.hand)
    card = judge(Take(plan, onsets, observed_by="file")).to_dict()
    assert (card["n"], card["missed"], card["extra"]) == (len(plan.moments), 0, 0)
    assert card["bias_ms"] == pytest.approx(-20, abs=4)
    assert card["spread_ms"] == pytest.approx(8, abs=2.5)


@each_drill
def test_each_plays_with_a_cue_on_every_moment(drill):
    plan = lay_out(drill, CountMap.steady(drill.practice.tempo_bpm), tempo_bpm=drill.practice.tempo_bpm, cycles=2)
    sound = cue_sound(plan, rate_hz=8000)
    loud = np.abs(sound.samples).max(axis=1)
    for time in plan.moments.time:
        start = round(time * 8000)
        assert loud[start : start + 160].max() > 0.01


def by_name(name):
    return next(drill for drill in DRILLS if drill.name == name)


def test_the_figure_eight_as_taught_has_one_circle_low_and_two_high():
    # common practice
    labels = [moment.label for moment in by_name("rope_figure_eight").pattern.hands[0].moments]
    assert labels == ["low", "high 1", "high 2"]


def test_a_good_take_shows_one_at_the_floor_one_almost_up_one_starting_down():
    # common practice: one circle at the floor, one as the arm is almost up, one as it starts down
    pattern = by_name("rope_figure_eight_observed").pattern
    phases = {phase.name: phase for phase in pattern.phases}
    floor, almost_up, down = (moment.at for moment in pattern.hands[0].moments)
    assert phases["low"].start <= floor < phases["low"].end
    rise = phases["rise"]
    assert rise.start + rise.length / 2 < almost_up < rise.end
    fall = phases["fall"]
    assert fall.start <= down < fall.start + fall.length / 2


def test_the_second_club_of_the_mills_is_half_a_circle_behind():
    # half a circle: from memory; equal circles and one period of both clubs: common practice
    for name, circle_counts in (
        ("clubs_mills", 2.0),
        ("clubs_mills_carried", 2.0),
        ("clubs_mills_two", 1.0),
        ("clubs_mills_three", 1.0),
        ("clubs_mills_overhead", 1.0),
    ):
        first, second = by_name(name).pattern.hands
        for leader, follower in zip(first.moments, second.moments, strict=True):
            assert follower.at - leader.at == pytest.approx(circle_counts / 2)
        steps = np.diff([moment.at for moment in first.moments])
        assert np.allclose(steps, circle_counts)


def test_four_circles_on_the_arm_are_five_in_the_room():
    # exact: f2/f1 - 1 = 4 in the arm's frame where f2/f1 = 5 in the room's, both turning the same way
    carried = by_name("clubs_mills_carried").pattern.carried
    assert (carried.in_frame("arm"), carried.in_frame("room")) == (4, 5)


def test_the_pull_of_the_boomerang_comes_while_the_stick_is_on_the_floor():
    pattern = by_name("ribbon_boomerang").pattern
    floor = next(phase for phase in pattern.phases if phase.name == "floor")
    at = {moment.kind: moment.at for hand in pattern.hands for moment in hand.moments}
    assert at["release"] < at["contact"] == pytest.approx(floor.start)
    assert floor.start + SAME_PLACE < at["pull"] < floor.end < at["catch"]


def test_the_table_has_a_row_for_every_drill():
    rows = library_table(DRILLS).splitlines()
    assert len(rows) == 2 + len(DRILLS)
    assert len({row.count("|") for row in rows}) == 1
    assert "| `rope_figure_eight` | rope | 4 counts | right: 3 circles | 100 (66 to 132) |" in library_table(DRILLS)
    assert "right: 1 release, 1 pull, 1 catch; stick: 1 contact" in library_table([by_name("ribbon_boomerang")])

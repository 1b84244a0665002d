"""What is to be seen at one instant, and that nothing of it flashes."""

import re
from dataclasses import replace

import numpy as np
import pytest

from tempo_coach.coach.practising.movement import Movement
from tempo_coach.coach.practising.picture import SIGNS, make_picture
from tempo_coach.live.practice.course import begin
from tempo_coach.live.practice.last_word import LastWord
from tempo_coach.live.practice.session import PracticeState, Stage
from tempo_coach.pattern.plan.plan import Plan
from tempo_coach.ui.palette import PLAIN
from tempo_coach.ui.practice.practice_card import draw_practice_card
from tests.ui.fakes import lay


def playing(plan: Plan, position: float) -> PracticeState:
    session, _ = begin(plan, stamp=0.0, keys="jf"[: len(plan.hands)])
    return replace(session, stage=Stage.PLAYING, position=position)


def at(plan: Plan, count: float) -> float:
    return float(np.interp(count, plan.knot_counts, plan.knot_times))


def test_the_lead_in_counts_to_the_end_of_its_eight_however_long_it_is() -> None:
    for lead_in in (8, 4, 2):
        plan = lay("rope_figure_eight", lead_in_counts=lead_in)
        seen = [
            make_picture(playing(plan, at(plan, count + 0.01)), Movement(plan)).number for count in range(-lead_in, 1)
        ]
        assert seen == [str(8 - lead_in + k + 1) for k in range(lead_in)] + ["1"]


def test_counts_and_eights_are_said_as_a_coach_says_them() -> None:
    plan = lay("rope_figure_eight", from_eight=3)
    picture = make_picture(playing(plan, at(plan, plan.first_count + 10.2)), Movement(plan))
    assert picture.number == "3" and picture.place.startswith("eight 4")


def test_the_move_now_and_the_next_one_with_their_circles() -> None:
    plan = lay("rope_figure_eight")
    picture = make_picture(playing(plan, at(plan, 1.2)), Movement(plan))
    assert (picture.now, picture.now_circles) == ("rise", (0,))
    assert (picture.next, picture.next_circles, picture.next_in) == ("high", (2,), "in 1 count")


def test_a_drill_without_phases_names_its_moments() -> None:
    plan = lay("rope_figure_eight", tempo_bpm=66)
    bare = replace(plan, pattern={})
    picture = make_picture(playing(bare, at(bare, 2.3)), Movement(bare))
    assert (picture.now, picture.next) == ("high 1", "high 2")


def test_moves_that_follow_too_fast_to_be_read_are_shown_as_one() -> None:
    plan = lay("rope_figure_eight", tempo_bpm=132)
    bare = replace(plan, pattern={})
    assert make_picture(playing(bare, at(bare, 2.3)), Movement(bare)).next == "low"


def test_the_end_is_announced() -> None:
    plan = lay("rope_figure_eight", cycles=2)
    assert make_picture(playing(plan, plan.duration - 0.05), Movement(plan)).next == "end"


def test_in_a_pause_of_the_music_the_count_stands_and_she_is_told_to_wait() -> None:
    plan = lay("rope_figure_eight")
    late = plan.knot_times + np.where(plan.knot_counts > 4, 3.0, 0.0)
    first = int(np.flatnonzero(plan.knot_counts == 4)[-1])
    late[first:] = plan.knot_times[first:] + 3.0
    waiting = replace(plan, knot_times=late)
    picture = make_picture(playing(waiting, float(plan.knot_times[first]) + 1.5), Movement(waiting))
    assert picture.now == "wait" and picture.number == "5"


def test_a_drill_that_begins_within_an_eight_is_followed_from_there() -> None:
    plan, usual = lay("rope_figure_eight", from_count=4), Movement(lay("rope_figure_eight"))
    movement = Movement(plan)
    assert movement.cycle_starts[0] == plan.first_count + 3
    assert movement.marks == usual.marks
    assert make_picture(playing(plan, at(plan, plan.first_count + 3 + 1.2)), movement).now == "rise"


@pytest.mark.parametrize("tempo_bpm", [60.0, 120.0, 179.0, 240.0, 400.0])
@pytest.mark.parametrize("drill", ["clubs_mills", "rope_figure_eight", "ribbon_snakes"])
def test_no_place_on_the_card_flashes_more_than_three_times_a_second(drill: str, tempo_bpm: float) -> None:
    """WCAG 2.3.1 (W3C, 2018): a flash is a pair of opposing changes; at most three in any one second.

    Every cell of the number and the letters is followed through ten seconds of pictures at the screen's rate.
    """
    plan = lay(drill, tempo_bpm=tempo_bpm, cycles=40)
    movement = Movement(plan)
    rate = 15
    frames = []
    for k in range(10 * rate):
        picture = make_picture(playing(plan, 1.0 + k / rate), movement)
        rows = draw_practice_card(picture, movement, width=80, height=24, palette=PLAIN)
        cells = np.array([[ord(letter) for letter in row.plain] for row in rows[2:14]])
        frames.append(np.isin(cells, [ord(c) for c in "█▀▄"]))
    changes = np.diff(np.array(frames, dtype=np.int8), axis=0) != 0
    window = np.lib.stride_tricks.sliding_window_view(changes, rate, axis=0).sum(axis=-1)
    assert int(window.max()) <= 6  # six changes are three pairs


def test_one_eight_is_not_told_from_itself_to_itself() -> None:
    plan = lay("rope_figure_eight", from_eight=10, cycles=2)
    assert make_picture(playing(plan, at(plan, plan.first_count + 1)), Movement(plan)).place == "eight 10"


def test_what_she_did_so_far_is_told_apart_and_explained_where_there_is_room() -> None:
    plan = lay("rope_figure_eight")
    movement = Movement(plan)
    words = [LastWord(word, "right") for word in ("early", "late", "late", "steady") * 40]
    for shown in (words[:4], words):
        picture = make_picture(playing(plan, at(plan, 5.0)), movement, so_far=shown)
        rows = [row.plain for row in draw_practice_card(picture, movement, width=100, height=30, palette=PLAIN)]
        (row,) = (row for row in rows if "so far" in row)
        # side by side they would join to arrows in some fonts
        assert not re.search("[<=>]{2}", row) and all(f"{sign} {word}" in row for word, sign in SIGNS.items())
        assert "newest last" in row
        told = row.split("so far")[1].split("< early")[0].split()
        assert told == [SIGNS[each.word] for each in shown][-len(told) :] and len(told) >= min(len(shown), 20)


@pytest.mark.parametrize("name", ["clubs_mills", "clubs_mills_carried", "clubs_mills_overhead", "clubs_mills_three"])
def test_a_hand_that_trails_is_drawn_hollow_until_it_is_asked_for_there(name: str) -> None:
    plan = lay(name)
    movement = Movement(plan)
    asked = plan.moments.count[plan.moments.of_hand("left")]

    def drawn(count: float) -> str:
        picture = make_picture(playing(plan, at(plan, count)), movement)
        rows = [row.plain for row in draw_practice_card(picture, movement, width=80, height=24, palette=PLAIN)]
        return next(row for row in rows if row.startswith("  ◆ left"))[12:]

    before, later = drawn(plan.first_count - 2), drawn(plan.first_count + plan.cycle_counts + 0.4)
    first = plan.first_count + plan.cycle_counts
    trailing = int((asked[:20] >= first).argmax())
    assert (
        asked[0] > plan.first_count
        and trailing == int((plan.moments.cycle[plan.moments.of_hand("left")] == 0).sum()) - 1
    )
    assert before[0] == "◇" and re.match(" (from cycle 2|later) ", before[1:])
    assert "◇" not in later and later.count("◆") == before.count("◆") + 1 and "from" not in later

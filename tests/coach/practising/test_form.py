"""The set-up as plain values."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach import coach
from tempo_coach.coach.practising.form import Form, make_form
from tempo_coach.coach.practising.form_line import Line, say_line
from tempo_coach.errors import CoachError
from tempo_coach.live.practice.session import Way
from tests.refused import refused

DRILLS = ("ball_bounces", "clubs_mills", "rope_figure_eight", "rope_skips_single")


def write(form: Form, key: str, text: str) -> Form:
    for letter in text:
        form = form.put(form.line(key).typed(letter))
    return form


def test_as_it_stands_it_asks_for_a_drill_as_the_drill_has_it() -> None:
    assert make_form(DRILLS).request() == coach.Request("clubs_mills")


def test_what_was_asked_for_on_the_command_line_stands_in_it() -> None:
    request = coach.Request(
        "my/own.toml", music="a.ogg", tempo_bpm=96.0, from_eight=3, eights=4, speed=0.8, cues="ones", mirrored=True
    )
    assert make_form(DRILLS, request).request() == request


@pytest.mark.parametrize("observed_by", ["tap", "film", "clap", "nobody"])
def test_a_practice_that_was_begun_by_a_command_stands_in_the_set_up_as_it_goes(observed_by: str) -> None:
    way = Way(5.0, 3, 40.0)
    form = make_form(DRILLS).with_way(way, observed_by)
    assert form.observed_by == observed_by and form.way(None) == way
    assert make_form(DRILLS).with_way(Way(), "tap") == make_form(DRILLS)


def test_left_and_right_lead_through_choices_round_and_round() -> None:
    line = make_form(DRILLS).line("hands")
    assert (
        line.turned(1).value == "mirrored" and line.turned(1).turned(1) == line and line.turned(-1).value == "mirrored"
    )


def test_a_letter_leads_to_the_next_drill_that_begins_with_it() -> None:
    line = make_form(DRILLS).line("drill")
    assert line.typed("r").value == "rope_figure_eight"
    assert line.typed("r").typed("r").value == "rope_skips_single"
    assert line.typed("z") == line


def test_a_colour_is_found_by_its_whole_word_and_arrows_lead_on_from_there() -> None:
    line = Line("colour", "its colour", "red", ("red", "yellow", "lime", "orange", "white"))
    for letter in "yellow":
        line = line.typed(letter)
    assert line.value == "yellow" and line.turned(1).value == "lime" and line.turned(1).search == ""


def test_numbers_go_up_from_what_is_usual_and_stay_within_their_range() -> None:
    drill = coach.load_drill("clubs_mills")
    tempo = make_form(DRILLS).for_drill(drill).line("tempo")
    assert tempo.turned(1).value == "104" and tempo.turned(-1).value == "96"
    for _ in range(200):
        tempo = tempo.turned(1)
    assert tempo.value == "400"


def test_a_number_is_typed_erased_and_as_usual_again() -> None:
    form = write(make_form(DRILLS), "tempo", "9x6")
    assert form.request().tempo_bpm == 96.0
    line = form.line("tempo").erased().erased()
    assert line.value == "" and form.put(line).request().tempo_bpm is None


@pytest.mark.parametrize(("key", "text"), [("tempo", "1000"), ("speed", "10"), ("cycles", "0"), ("tempo", "9.9.9")])
def test_a_number_that_cannot_be_is_said_with_its_range(key: str, text: str) -> None:
    with refused(r"expected .* to .*, got"):
        write(make_form(DRILLS), key, text).request()


def test_what_is_usual_is_said_to_be() -> None:
    form = make_form(DRILLS).for_drill(coach.load_drill("clubs_mills"))
    assert say_line(form.line("tempo")) == "100 a minute (usual)"
    assert say_line(form.line("cues")) == "every moment (usual)"
    assert say_line(form.line("device")) == "the system's own"
    assert say_line(form.line("tempo").turned(1)) == "104 a minute"


def test_on_music_the_music_says_what_is_usual() -> None:
    form = write(make_form(DRILLS), "music", "a.ogg").for_drill(coach.load_drill("clubs_mills"))
    assert [say_line(form.line(key)) for key in ("tempo", "cycles", "eights")] == [
        "as heard",
        "as many as fit",
        "all that follow",
    ]
    assert form.line("tempo").turned(1).value == "104" and form.line("eights").turned(-1).value == "3"


def test_how_it_goes_on_follows_the_lines() -> None:
    form = write(write(make_form(DRILLS), "ready", "10"), "takes", "3")
    form = form.put(form.line("steps").turned(1))
    drill = coach.load_drill("clubs_mills")
    way = form.way(drill)
    assert (way.ready, way.takes, way.steps) == (10.0, 3, drill.practice.steps)


KEYS = [line.key for line in make_form(DRILLS).lines]


@given(
    st.lists(
        st.tuples(st.sampled_from(KEYS), st.sampled_from(["left", "right", "erase"]), st.characters()), max_size=60
    )
)
def test_whatever_is_pressed_the_set_up_stays_a_set_up(presses: list[tuple[str, str, str]]) -> None:
    form = make_form(DRILLS)
    for key, press, letter in presses:
        line = form.line(key)
        match press:
            case "left" | "right":
                try:
                    form = form.put(line.turned(1 if press == "right" else -1))
                except CoachError:
                    form = form.put(line.erased())
            case _:
                form = form.put(line.erased().typed(letter))
        assert form.value("drill") in DRILLS
        assert all(isinstance(say_line(each), str) for each in form.lines)

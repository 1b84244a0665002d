"""Traces, films and recordings beside a plan: each finds the same moments, and says what it cannot tell."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
import soundfile

from tempo_coach import coach
from tempo_coach.errors import CoachError
from tempo_coach.music.files.sound import resample
from tempo_coach.observe.film.frames import look_at_film
from tempo_coach.observe.film.marker_trace import MarkerSpec, follow_film
from tempo_coach.observe.trace.trace import Trace
from tempo_coach.reasons import Note, Reason, Why
from tempo_coach.report.words.card import format_card
from tempo_coach.report.words.errors import hint_of, message_of
from tests.generators import contacts, films, movement
from tests.refused import into, refused

MILLS = movement.mills(3, n=12, noise=0.0, jitter=0.03)
#: A cycle of two counts lasts 0.6 s, as a circle of the mills does on the average.
PLAN = coach.lay(coach.Request("clubs_mills", tempo_bpm=200, cycles=12))
FIRST = float(PLAN.moments.time[0])
#: The film's and the recording's clock is that much ahead of the take's, and all was done that much late.
BEFORE, LATE = 0.8, 0.03
SIZE = (128, 96)
FILMED = coach.lay(coach.Request("clubs_mills", tempo_bpm=180, cycles=12, lead_in_counts=4))
MARKERS = (MarkerSpec("right", "red"), MarkerSpec("left", "yellow"))
CLAP = (BEFORE, 0.0)


def lows(count: int = PLAN.cycles) -> np.ndarray:
    """Low points of both clubs by turns, in seconds of the trace."""
    return np.column_stack([MILLS.circles["first"], MILLS.circles["second"]])[:count].ravel()


def test_a_trace_is_placed_by_a_clap() -> None:
    said: list[str] = []
    placed = coach.place_trace(MILLS.trace, PLAN, clap=(0.3, FIRST), warn=into(said))
    assert (placed.absolute, placed.confidence, said) == (True, None, [])
    assert placed.take.observed_by == "sensor"
    assert placed.take.onsets.hand == PLAN.moments.hand
    np.testing.assert_allclose(placed.take.onsets.time, lows() - 0.3 + FIRST, atol=0.0005)


def test_stamps_place_it_as_the_clap_does() -> None:
    stamped = Trace(MILLS.trace.time, MILLS.trace.values, MILLS.trace.channels, clock_start=2e9)
    placed = coach.place_trace(stamped, PLAN, started=2e9 - FIRST + 0.3)
    assert (placed.absolute, placed.confidence) == (True, None)
    by_clap = coach.place_trace(MILLS.trace, PLAN, clap=(0.3, FIRST))
    np.testing.assert_allclose(placed.take.onsets.time, by_clap.take.onsets.time, atol=1e-6)


def test_without_either_it_is_put_where_it_fits_and_the_doubt_is_said() -> None:
    said: list[str] = []
    placed = coach.place_trace(MILLS.trace, PLAN, warn=into(said))
    assert not placed.absolute
    assert placed.confidence is not None and 0 <= placed.confidence < 0.5  # even circles fit a circle later as well
    assert len(said) == 1
    assert said[0].startswith("the trace was put on the plan where it fits best, and it fits nearly as well")
    assert said[0].endswith("--clap ON_TRACE ON_TAKE.")
    assert coach.place_trace(MILLS.trace, PLAN).confidence == placed.confidence  # nobody needs to be told


def test_what_a_trace_does_not_show_is_said_and_not_asked_for() -> None:
    said: list[str] = []
    one = Trace(MILLS.trace.time, MILLS.trace.values[:, :2], MILLS.trace.channels[:2])
    placed = coach.place_trace(one, PLAN, clap=(0.3, FIRST), warn=into(said))
    assert said == ["nothing in the trace follows left."]
    assert set(placed.take.plan.moments.hand) == {"right"}
    np.testing.assert_allclose(placed.take.onsets.time, lows()[::2] - 0.3 + FIRST, atol=0.0005)


def test_the_mover_its_columns_and_the_second_one_are_those_that_are_named() -> None:
    alone = coach.lay(coach.Request("clubs_mills", tempo_bpm=200, cycles=12, hand="right"))
    clap = (0.6, FIRST)
    expected = MILLS.circles["second"][:12] - 0.6 + FIRST
    for named in ({"point": "second"}, {"columns": ("second_x", "second_y")}):
        placed = coach.place_trace(MILLS.trace, alone, clap=clap, **named)  # type: ignore[arg-type]  # one of the two
        np.testing.assert_allclose(placed.take.onsets.time, expected, atol=0.0005)
    swapped = coach.place_trace(MILLS.trace, PLAN, point="second", against=("first",), clap=(0.6, FIRST + 0.3))
    assert swapped.take.onsets.of_hand("right")[0] == pytest.approx(FIRST + 0.3, abs=0.001)


def test_a_sensor_that_does_not_show_where_the_low_point_is_gives_no_bias_though_a_clap_places_it() -> None:
    """Rotation rates of a wrist on a cone have the same place of every circle, and nothing says which."""
    alone = coach.lay(coach.Request("clubs_mills", tempo_bpm=200, cycles=12, hand="right"))
    trace = movement.cone(2, movement.Phase(0.3 + 0.6 * np.arange(13)), movement.clock(8, 100))
    placed = coach.place_trace(trace, alone, clap=(0.3, FIRST), period=0.6)
    assert (placed.absolute, placed.confidence) == (False, None)
    assert coach.judge_placed(placed).measures["bias_ms"].reason.code is Why.ANY_CIRCLE


@pytest.mark.parametrize(
    ("more", "where", "message"),
    [
        ({"started": 1e9}, "--started", "the stamps of the trace tell no date and time"),
        ({"point": "nobody"}, "--point", "expected one of the points first, second, got nobody"),
    ],
)
def test_what_a_trace_cannot_answer_is_said(more: dict[str, object], where: str, message: str) -> None:
    with pytest.raises(CoachError) as caught:
        coach.place_trace(MILLS.trace, PLAN, **more)  # type: ignore[arg-type]  # options of it
    assert (caught.value.where, message_of(caught.value)) == (where, message)
    assert hint_of(caught.value)


def test_a_period_that_is_known_is_the_one_that_is_looked_for() -> None:
    with refused("a cycle of 50 s: expected"):
        coach.place_trace(MILLS.trace, PLAN, clap=(0.3, FIRST), period=50.0)


@pytest.mark.parametrize("period", [0.0, -0.6, float("inf"), float("nan")])
def test_a_period_that_is_none_is_said(period: float) -> None:
    with refused(f"a cycle of {period:g} s: expected"):
        coach.place_trace(MILLS.trace, PLAN, clap=(0.3, FIRST), period=period)


class Gym(NamedTuple):
    film: Path
    recording: Path


@pytest.fixture(scope="module")
def gym(tmp_path_factory: pytest.TempPathFactory) -> Gym:
    """A film of two clubs and a recording, both of the cues of a plan, with a clap on each moment, 30 ms late."""
    folder = tmp_path_factory.mktemp("Halle 音 eins")
    played = resample(coach.cue_sound(FILMED), contacts.RATE_HZ).mono()
    heard = contacts.record("clap", played, FILMED.moments.time + LATE, 3, before=BEFORE).recording
    soundfile.write(folder / "my claps é.wav", heard, contacts.RATE_HZ)
    markers = {}
    for k, hand in enumerate(FILMED.hands):
        done = BEFORE + FILMED.moments.time[FILMED.moments.of_hand(hand)] + LATE
        path = films.turning(movement.Phase(done), (36 + 56 * k, 45), 25, 1 - 2 * k)
        markers[hand] = films.Marker((films.RED, films.YELLOW)[k], path, 4.5)
    scene = films.Scene(markers, films.steady_times(BEFORE + FILMED.duration + 0.6, 30), SIZE)
    film = folder / "mein Film é.mp4"
    films.write_film(film, films.pictures(scene), size=SIZE, crf=18, sound=heard, rate_hz=contacts.RATE_HZ)
    return Gym(film, folder / "my claps é.wav")


def onsets_late(placed: coach.Placed) -> np.ndarray:
    """Seconds by which the onsets lie behind their moments, none missed and none extra."""
    assert placed.take.onsets.hand == placed.take.plan.moments.hand
    return placed.take.onsets.time - placed.take.plan.moments.time


def test_a_film_is_put_on_the_clock_by_its_sound_or_by_a_clap(gym: Gym) -> None:
    film = look_at_film(gym.film)
    told: list[float] = []
    by_sound = coach.align_film(film, FILMED, progress=told.append)
    assert by_sound.line.to_second(BEFORE + 5) == pytest.approx(5, abs=0.002)
    assert told == sorted(told) and told[-1] == 1
    by_clap = coach.align_film(film, FILMED, clap=CLAP)
    assert by_clap.line.to_second(BEFORE + 5) == pytest.approx(5)
    silent = replace(film, has_sound=False)
    assert coach.align_film(silent, FILMED, clap=CLAP).line.to_second(BEFORE) == pytest.approx(0)
    with pytest.raises(CoachError) as caught:
        coach.align_film(silent, FILMED)
    assert message_of(caught.value) == "the film has no sound to put on the music"
    assert (caught.value.where, hint_of(caught.value)) == (str(gym.film), "give a clap by hand: --clap ON_FILM ON_TAKE")


@pytest.mark.parametrize(("factor", "said"), [(1.4, "bigger"), (1.0, "")])
def test_a_circle_of_another_size_in_a_film_is_on_the_card(tmp_path: Path, factor: float, said: str) -> None:
    hand = FILMED.hands[0]
    done = BEFORE + FILMED.moments.time[FILMED.moments.of_hand(hand)]
    phase = movement.Phase(done)

    def path(times: np.ndarray) -> np.ndarray:
        turn = phase(np.asarray(times))
        # the sixth circle, from half a turn before its low point to half a turn after it
        inside = np.clip(np.minimum(turn - 4.5, 5.5 - turn) / 0.1, 0, 1)
        radius = 18 * (1 + (factor - 1) * inside)
        return np.array((64.0, 48.0)) + radius[:, None] * movement.turning(turn, 1.0, 1) * (1, -1)

    scene = films.Scene(
        {hand: films.Marker(films.RED, path, 4.5)}, films.steady_times(BEFORE + FILMED.duration + 0.6, 30), SIZE
    )
    film = tmp_path / "one.mp4"
    films.write_film(film, films.pictures(scene), size=SIZE, crf=18)
    placed = coach.read_film(film, FILMED, wanted=(MarkerSpec(hand, "red"),), clap=CLAP)
    card = coach.judge_placed(placed)
    if said:
        assert {(size.hand, size.ratio > 1) for size in card.sizes.odd} == {(hand, True)}
        assert {size.cycle for size in card.sizes.odd} <= {4, 5, 6}
        assert f"% {said} than its neighbours" in " ".join(format_card(card).split())
    else:
        assert card.sizes.odd == ()


def test_a_film_without_the_music_of_the_plan_is_refused(gym: Gym) -> None:
    other = coach.lay(coach.Request("rope_figure_eight", tempo_bpm=67, cycles=4))
    with refused("is not found in the sound") as caught:
        coach.align_film(look_at_film(gym.film), other)
    assert caught.value.where == str(gym.film)


def test_all_between_a_film_and_its_take_in_one_go_or_step_by_step(gym: Gym) -> None:
    said: list[Note] = []
    told: list[float] = []
    whole = coach.read_film(gym.film, FILMED, wanted=MARKERS, warn=said.append, progress=told.append)
    assert (whole.absolute, whole.confidence, whole.take.observed_by) == (True, None, "film")
    assert np.median(onsets_late(whole)) == pytest.approx(LATE, abs=0.003)
    assert said == [Reason(Why.FILM_DELAYS)]
    assert told == sorted(told) and told[0] <= 0.2 and 0.99 < told[-1] <= 1
    film = look_at_film(gym.film)
    by_steps = coach.place_film(follow_film(film, MARKERS), FILMED, coach.align_film(film, FILMED))
    np.testing.assert_array_equal(by_steps.take.onsets.time, whole.take.onsets.time)
    with refused("a cycle of 50 s: expected"):
        coach.place_film(follow_film(film, MARKERS), FILMED, coach.align_film(film, FILMED), period=50.0)


def test_what_is_left_out_and_whose_marker_is_whose_are_said(gym: Gym) -> None:
    said: list[Note] = []
    wanted = (MarkerSpec("club", "red"), MarkerSpec("rope", "yellow"))
    placed = coach.read_film(gym.film, FILMED, wanted=wanted, clap=CLAP, without=[(2.0, 3.0)], warn=said.append)
    hidden = len(FILMED.moments) - len(placed.take.plan.moments)
    on_film = placed.take.plan.moments.time + LATE + BEFORE
    assert hidden == 2 and not ((on_film > 2.05) & (on_film < 2.95)).any()
    assert said[:2] == [
        Reason(Why.HANDS_GUESSED, (("club", "rope"), ("right", "left"))),
        Reason(Why.HIDDEN_MOMENTS, (2, 24)),
    ]
    assert np.median(onsets_late(placed)) == pytest.approx(LATE, abs=0.003)


def test_a_film_of_another_time_shows_nothing_of_the_take(gym: Gym) -> None:
    with pytest.raises(CoachError) as caught:
        coach.read_film(gym.film, FILMED, wanted=MARKERS, clap=(500.0, 1.0))
    assert message_of(caught.value).startswith("the film shows -499.0 to ")
    assert (caught.value.where, hint_of(caught.value)) == (str(gym.film), "choose another film, or check the clap")


@pytest.mark.parametrize("way", ["music", "clap", "film"])
def test_claps_are_heard_in_a_recording_or_in_a_film(gym: Gym, way: str) -> None:
    film = look_at_film(gym.film) if way == "film" else None
    said: list[Note] = []
    placed = coach.place_sound(
        "not looked at" if film else gym.recording,
        FILMED,
        kind="clap",
        film=film,
        clap=CLAP if way == "clap" else None,
        warn=said.append,
    )
    assert (placed.absolute, placed.confidence, placed.take.observed_by) == (True, None, "clap")
    assert np.median(onsets_late(placed)) == pytest.approx(LATE, abs=0.002)
    assert said[0].code is Why.HEARD_BY and said[0].args[0] == "clap"


def test_progress_of_a_recording_is_told_and_one_hand_alone_is_heard(gym: Gym) -> None:
    told: list[float] = []
    placed = coach.place_sound(gym.recording, FILMED, kind="clap", hands=["left"], progress=told.append)
    assert told == sorted(told) and told[-1] == 1
    assert set(placed.take.plan.moments.hand) == {"left"}
    with refused("expected a hand of the plan"):
        coach.place_sound(gym.recording, FILMED, kind="clap", hands=["foot"], clap=CLAP)


def slowed(gym: Gym) -> dict[str, object]:
    return {"film": replace(look_at_film(gym.film), slowed=8.0)}


@pytest.mark.parametrize(
    ("more", "where", "message", "hint"),
    [
        (
            lambda _: {"quiet": (0.0, 1.0)},
            "--quiet, --sample",
            "expected a quiet and a sample, got one of them",
            "give both",
        ),
        (
            lambda _: {"sample": (0.0, 1.0)},
            "--quiet, --sample",
            "expected a quiet and a sample, got one of them",
            "give both",
        ),
        (slowed, "mein Film é.mp4", "a film in slow motion has no sound of its own speed", None),
    ],
)
def test_a_recording_that_cannot_be_used_is_said(
    gym: Gym, more: Callable[[Gym], dict[str, object]], where: str, message: str, hint: str | None
) -> None:
    with pytest.raises(CoachError) as caught:
        coach.place_sound(gym.recording, FILMED, **more(gym))  # type: ignore[arg-type]  # options of it
    assert caught.value.where is not None and caught.value.where.endswith(where)
    assert (message_of(caught.value), hint_of(caught.value)) == (message, hint)


def test_a_threshold_is_learned_from_a_quiet_and_a_sample_of_the_recording(gym: Gym) -> None:
    """What stands out nowhere from the quiet can be no sample: the recording's own stretches are what is compared."""
    with refused("does not stand out"):
        coach.place_sound(gym.recording, FILMED, kind="clap", quiet=(0.0, 0.4), sample=(0.3, 0.7), clap=CLAP)


def test_a_recording_that_is_not_there_or_of_something_else_is_said(gym: Gym, tmp_path: Path) -> None:
    with pytest.raises(CoachError) as caught:
        coach.place_sound(tmp_path / "gone.wav", FILMED)
    assert caught.value.where == str(tmp_path / "gone.wav")
    soundfile.write(tmp_path / "silence.wav", np.zeros(5 * contacts.RATE_HZ), contacts.RATE_HZ)
    with refused("is not found in the sound"):
        coach.place_sound(tmp_path / "silence.wav", FILMED)
    with refused("no contact is heard"):  # a clap says where it is, and that it is silent
        coach.place_sound(tmp_path / "silence.wav", FILMED, clap=CLAP)

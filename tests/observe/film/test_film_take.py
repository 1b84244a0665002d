"""What was followed in a film on the take clock: the line by clap or music, hidden moments, a table of members."""

from __future__ import annotations

import csv
import math

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.errors import CoachError
from tempo_coach.music.files.sound import Sound
from tempo_coach.observe.film import film_take
from tempo_coach.observe.film.film_take import (
    AROUND,
    BRIDGED,
    align_by_clap,
    align_film,
    align_to_music,
    around_take,
    members_to_csv,
    onto_take,
    to_film_take,
)
from tempo_coach.observe.film.film_trace import FilmTrace
from tempo_coach.observe.film.frames import Film
from tempo_coach.observe.sound.alignment import Alignment
from tempo_coach.observe.take.clock import ClockLine
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.observe.trace.trace import Channel, Trace
from tempo_coach.report.words.errors import hint_of, message_of
from tests.generators import movement
from tests.refused import into

PLAN = coach.lay(coach.Request("clubs_mills", tempo_bpm=120, cycles=8))
HANDS = PLAN.hands
QUIET = Sound(np.zeros((800, 1), np.float32), 8000)
BY_HAND = "give a clap by hand: --clap ON_FILM ON_TAKE"


def film(**changes: object) -> Film:
    told = {"start": 0.0, "end": math.inf, "duration": 40.0, "has_sound": True} | changes
    return Film("Zoë 🤸.mp4", 96, 64, 0, 25.0, **told)  # type: ignore[arg-type]  # as a film has them


def followed(
    *names: str, gaps: dict[str, tuple[float, float]] | None = None, seconds: float = 20.0, **changes: object
) -> FilmTrace:
    """Markers in mills of 0.5 s, each with the low point of its own where the second is whole."""
    time = np.arange(0, seconds, 0.02)
    columns, channels = [], []
    for name in names:
        place = 40 * movement.turning(2 * time, 1.0, 1)
        start, end = (gaps or {}).get(name, (1.0, 0.0))
        place[(time > start) & (time < end)] = np.nan
        columns += [place, np.ones(time.size)[:, None]]
        channels += [Channel(f"{name} {axis}", "position", axis, name, "px") for axis in "xy"]
        channels += [Channel(f"{name} confidence", "other", "", f"{name} confidence")]
    trace = Trace(time, np.hstack(columns), channels)
    return FilmTrace(film(**changes), trace, (), np.zeros((time.size, 2, 3)), ())


def found_at(line: ClockLine, confidence: float = 1.0) -> Alignment:
    return Alignment(line, confidence, 0.0, 9.0, 0.001)


@pytest.fixture
def heard(monkeypatch: pytest.MonkeyPatch) -> list[Sound]:
    """What was looked for in the film's sound, which is found at once."""
    asked: list[Sound] = []

    def find(sound: Sound, played: Sound, *, begin: float, **_: object) -> Alignment:
        asked.append(played)
        return found_at(ClockLine(5.0, 2.0, 1.0001, 0.002, 9), 0.4 if begin > 1 else 0.9)

    monkeypatch.setattr(film_take, "read_film_sound", lambda film, warn: (QUIET, film.start))
    monkeypatch.setattr(film_take, "align", find)
    return asked


def test_a_doubtful_place_on_the_music_is_told(heard: list[Sound]) -> None:
    said: list[str] = []
    assert align_film(film(), QUIET, warn=into(said)).line.offset == 2.0
    assert said == []
    align_film(film(start=2.0), QUIET, warn=into(said))
    assert said == ["Zoë 🤸.mp4: the film fits another place of the music nearly as well; look at the times."]
    align_film(film(start=2.0), QUIET)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"slowed": 8.0}, "a film in slow motion has no sound that could be put on the music"),
        ({"has_sound": False}, "the film has no sound to put on the music"),
    ],
)
def test_a_film_whose_sound_tells_no_place_asks_for_a_clap(changes: dict[str, object], message: str) -> None:
    with pytest.raises(CoachError) as caught:
        align_film(film(**changes), QUIET)
    assert (message_of(caught.value), caught.value.where, hint_of(caught.value)) == (message, "Zoë 🤸.mp4", BY_HAND)


def test_a_film_of_slowed_music_leads_to_seconds_of_the_recording(heard: list[Sound]) -> None:
    found = align_to_music(film(), Sound(np.zeros((8000, 1), np.float32), 8000), speed=0.8)
    assert heard[0].duration == pytest.approx(1 / 0.8, rel=0.01)
    # ten seconds of life at 80 % are eight of the recording
    assert found.line.to_second(15.0) - found.line.to_second(5.0) == pytest.approx(8 * 1.0001)
    assert found.line.to_second(5.0) == pytest.approx(1.6)
    assert (found.line.residual_sd, found.line.n, found.speed) == (pytest.approx(0.0016), 9, 0.8)


@pytest.mark.parametrize("speed", [0.29, 3.1, 0.0, -1.0, math.nan])
def test_a_speed_that_nobody_plays_is_refused(speed: float) -> None:
    with pytest.raises(CoachError) as caught:
        align_to_music(film(), QUIET, speed=speed)
    assert (message_of(caught.value), caught.value.where, hint_of(caught.value)) == (
        f"expected a speed of 0.3 to 3, got {speed:g}",
        "--speed",
        "0.8 is 80 %",
    )


def test_a_clap_gives_the_offset_and_nothing_else() -> None:
    found = align_by_clap(film(start=1.0), (3.0, 10.0))
    assert found.line.to_second(5.5) == 12.5
    assert (found.confidence, found.start, found.end, found.line.n) == (1.0, 1.0, 40.0, 1)
    assert math.isnan(found.line.residual_sd)
    assert align_by_clap(film(end=30.0), (3.0, 10.0)).end == 30.0


def test_a_trace_is_moved_by_the_line_and_by_its_rate() -> None:
    moved = onto_take(followed("a"), ClockLine(4.0, 100.0, 1.001, 0.0, 9))
    np.testing.assert_allclose(moved.time[[0, 200]], [100 - 4.004, 100.0])


def test_slow_motion_runs_at_the_speed_of_life_from_its_clap_on() -> None:
    # 8 s of the film are one second of life: the clap at 16 s of it lies 2 s into life
    moved = onto_take(followed("a", slowed=8.0), ClockLine(16.0, 100.0, 1.0, 0.0, 1))
    np.testing.assert_allclose(moved.time[[0, 100, 200]], [98.0, 100.0, 102.0])


def test_what_lies_before_and_behind_the_take_is_left_out() -> None:
    first, last = PLAN.moments.time[[0, -1]]
    trace = followed("a", seconds=60.0).trace
    kept = around_take(trace, PLAN, where="a.mp4")
    assert kept.time[0] == pytest.approx(first - AROUND, abs=0.02)
    assert kept.time[-1] == pytest.approx(last + AROUND, abs=0.02)


@pytest.mark.parametrize("offset", [-100.0, 100.0])
def test_a_film_of_something_else_is_said_with_both_times(offset: float) -> None:
    trace = onto_take(followed("a"), ClockLine(0.0, offset, 1.0, 0.0, 1))
    with pytest.raises(CoachError) as caught:
        around_take(trace, PLAN, where="ä.mp4")
    first, last = PLAN.moments.time[[0, -1]]
    assert message_of(caught.value) == (
        f"the film shows {offset:.1f} to {offset + 19.98:.1f} s of the take clock and the take is from "
        f"{first:.1f} to {last:.1f} s"
    )
    assert (caught.value.where, hint_of(caught.value)) == ("ä.mp4", "choose another film, or check the clap")


LINE = ClockLine(0.0, 0.0, 1.0, 0.0, 1)


def done(late: float = 0.0) -> Take:
    return Take(PLAN, Onsets(PLAN.moments.time + late, PLAN.moments.hand), noise_floor_ms=3.0)


def test_a_take_of_a_film_that_shows_all_of_it_is_whole() -> None:
    take, hidden = to_film_take(done(), followed(*HANDS, seconds=60.0), LINE)
    assert hidden == 0 and len(take.plan.moments) == len(PLAN.moments) and len(take.onsets) == len(PLAN.moments)
    assert (take.observed_by, take.noise_floor_ms) == ("film", 3.0)


@pytest.mark.parametrize("names", [HANDS, ("Zoë", "Bo")])
def test_what_would_have_been_answered_in_a_gap_is_asked_of_its_hand_no_more(names: tuple[str, ...]) -> None:
    """Markers with other names are the hands in the order of the plan."""
    mine = PLAN.moments.time[PLAN.moments.of_hand(HANDS[0])]
    late = 0.2
    gap = (float(mine[2]) + 0.15, float(mine[2]) + 0.25)  # her answer lies there; the moment itself does not
    long = (gap[0] - BRIDGED, gap[1])
    take, hidden = to_film_take(done(late), followed(*names, gaps={names[0]: long}, seconds=60.0), LINE)
    assert hidden == 1
    np.testing.assert_allclose(take.plan.moments.time[take.plan.moments.of_hand(HANDS[0])], np.delete(mine, 2))
    assert take.onsets.of_hand(HANDS[0]) == pytest.approx(np.delete(mine, 2) + late)
    assert len(take.onsets.of_hand(HANDS[1])) == len(PLAN.moments.of_hand(HANDS[1]))


def test_a_short_gap_is_bridged() -> None:
    at = float(PLAN.moments.time[PLAN.moments.of_hand(HANDS[0])][2])
    _, hidden = to_film_take(done(), followed(*HANDS, gaps={HANDS[0]: (at - 0.03, at + 0.03)}, seconds=60.0), LINE)
    assert hidden == 0


def test_before_and_behind_the_film_nothing_is_missed() -> None:
    end = float(PLAN.moments.time[10]) + 0.01
    take, hidden = to_film_take(done(), followed(*HANDS, seconds=end), LINE)
    assert hidden == len(PLAN.moments) - len(take.plan.moments) >= len(PLAN.moments) - 11
    assert take.plan.moments.time[-1] < end and take.onsets.time[-1] < end


def test_without_an_onset_moments_are_taken_as_they_are() -> None:
    nothing = Take(PLAN, Onsets(np.array([]), ()))
    take, hidden = to_film_take(nothing, followed(*HANDS, seconds=60.0), LINE)
    assert (hidden, len(take.onsets)) == (0, 0)


def rows_of(text: str) -> list[list[str]]:
    return [line.split(",") for line in text.splitlines()]


def test_a_table_of_members_has_each_circle_in_order_of_time_and_none_of_a_gap() -> None:
    filmed = followed("Zoë", "Bo", gaps={"Bo": (4.2, 5.3)})
    head, *rows = rows_of(members_to_csv(filmed, filmed.trace))
    assert head == ["time", "member"]
    times = [float(time) for time, _ in rows]
    assert times == sorted(times)
    assert all(len(time.partition(".")[2]) == 6 for time, _ in rows)
    of = {name: np.array([float(time) for time, member in rows if member == name]) for name in ("Zoë", "Bo")}
    np.testing.assert_allclose(of["Zoë"][1:-1], np.round(2 * of["Zoë"][1:-1]) / 2, atol=0.005)
    assert not ((of["Bo"] > 4.2) & (of["Bo"] < 5.3)).any()
    assert of["Zoë"].size - of["Bo"].size == 2  # 4.5 and 5


def test_a_member_may_be_called_as_she_likes_and_the_table_stays_one() -> None:
    filmed = followed("=Zoë, the first", "Bo")
    names = {row[1] for row in csv.reader(members_to_csv(filmed, filmed.trace).splitlines()[1:])}
    assert names == {"'=Zoë, the first", "Bo"}


def test_members_with_hands_have_a_column_for_them() -> None:
    filmed = followed("Zoë/left", "Zoë/right")
    head, *rows = rows_of(members_to_csv(filmed, filmed.trace, hands=("right", "left")))
    assert head == ["time", "member", "hand"]
    assert {tuple(row[1:]) for row in rows} == {("Zoë", "left"), ("Zoë", "right")}
    only = followed("Zoë")
    assert rows_of(members_to_csv(only, only.trace, hands=("rope",)))[0] == ["time", "member"]


@pytest.mark.parametrize(
    ("name", "hands"), [("Zoë/foot", ("right", "left")), ("Zoë", ("right", "left")), ("Zoë/l", ("rope",))]
)
def test_a_marker_that_names_no_hand_of_the_plan_is_said(name: str, hands: tuple[str, ...]) -> None:
    filmed = followed(name)
    with pytest.raises(CoachError) as caught:
        members_to_csv(filmed, filmed.trace, hands=hands)
    assert (message_of(caught.value), caught.value.where, hint_of(caught.value)) == (
        f"{name} names no hand of the plan ({', '.join(hands)})",
        "--marker",
        f"write Zoë/{hands[0]}=COLOUR",
    )


def test_a_marker_that_does_nothing_that_repeats_is_named() -> None:
    filmed = followed("Zoë")
    still = Trace(filmed.trace.time, np.column_stack([filmed.trace.time * 3] * 3), filmed.trace.channels)
    with pytest.raises(CoachError) as caught:
        members_to_csv(filmed, still)
    assert caught.value.where == "Zoë 🤸.mp4: Zoë" and "nothing that repeats" in message_of(caught.value)

"""Laying drills, routines and every count; what a plan sounds like."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.errors import CoachError
from tempo_coach.live.mixing.mix import RATE_HZ as CUE_RATE_HZ
from tempo_coach.music.counts.count_map import Position
from tempo_coach.music.files.sound import Sound
from tempo_coach.music.files.sound_file import write_sound
from tempo_coach.pattern.drill.drill_file import find_drill, pattern_data
from tempo_coach.pattern.plan.plan import Plan
from tempo_coach.pattern.plan.plan_file import plan_to_dict, read_plan
from tempo_coach.pattern.routine.routine import Laid
from tempo_coach.report.words.errors import hint_of, message_of
from tempo_coach.resources import content_hash
from tests.refused import into, refused

RATE_HZ = 8000
#: Three eights of counts, half a second each, from half a second on, then half a second more.
BEATS = 0.5 + 0.5 * np.arange(24)
DURATION = 13.0


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> coach.OpenRoutine:
    """A routine with known counts: mills on its first eight, on its third a drill of her own, mirrored, for one hand.

    The music clicks a fifth of a second behind each count, so that counts as found differ from those as corrected.
    """
    folder = tmp_path_factory.mktemp("Übung 音 mit Musik")
    samples = np.zeros(int(DURATION * RATE_HZ))
    seconds = np.arange(400) / RATE_HZ
    for beat in BEATS + 0.2:
        first = round(beat * RATE_HZ)
        samples[first : first + 400] = 0.5 * np.sin(2 * np.pi * 1000 * seconds) * np.exp(-seconds / 0.012)
    write_sound(folder / "my music é.wav", Sound(samples[:, None], RATE_HZ))
    (folder / "beats.txt").write_text("".join(f"{beat}\n" for beat in BEATS))
    (folder / "own drill.toml").write_text(find_drill("clubs_mills").read_text(encoding="utf-8"), encoding="utf-8")
    begun = coach.begin_routine(folder / "my routine.toml", folder / "my music é.wav", known=folder / "beats.txt")
    laid = (
        Laid("clubs_mills", Position(1, 1.0)),
        Laid("own drill.toml", Position(3, 5.0), hand="left", mirrored=True),
    )
    return coach.save_routine(replace(begun, routine=replace(begun.routine, laid=laid)))


def mills(**more: object) -> coach.Request:
    return replace(coach.Request("clubs_mills"), **more)  # type: ignore[arg-type]  # fields of a Request


def on_music(opened: coach.OpenRoutine, **more: object) -> coach.Request:
    return mills(music=str(opened.path), **more)


def test_without_music_it_is_laid_on_the_drills_own_tempo_or_the_asked_one() -> None:
    plan = coach.lay(mills(cycles=4))
    assert (plan.drill, plan.tempo_bpm, plan.music, plan.speed, plan.cycles) == ("clubs_mills", 100, None, 1, 4)
    assert (plan.lead_in_counts, plan.cue_way) == (8, "all")  # as the drill says
    assert plan.start == pytest.approx(8 * 0.6)
    assert plan.duration == pytest.approx(16 * 0.6)
    # a circle every two counts, its low point half-way through it; the left hand one count behind
    np.testing.assert_allclose(plan.moments.time, 4.8 + 0.6 * (1 + np.arange(8)))
    assert plan.moments.hand == ("right", "left") * 4
    assert plan.pattern == pattern_data(find_drill("clubs_mills"))
    faster = coach.lay(mills(cycles=4, tempo_bpm=120, lead_in_counts=2))
    assert faster.tempo_bpm == 120
    np.testing.assert_allclose(faster.moments.time, 1 + 0.5 * (1 + np.arange(8)))


def test_speed_cues_hands_and_the_mirror_are_those_that_are_asked_for() -> None:
    assert coach.lay(mills(cycles=8, cues="none")).cue_way == "none"
    assert not coach.lay(mills(cycles=8, cues="none")).moments.cue.any()
    assert coach.lay(mills(cycles=2, hand="left")).hands == ("left",)
    mirrored = coach.lay(mills(cycles=2, mirrored=True))
    assert mirrored.moments.hand == ("left", "right") * 2
    assert coach.lay(mills(eights=2)).cycles == 8


def test_counts_are_spoken_where_that_is_asked_for() -> None:
    clicked, spoken = coach.lay(mills(cycles=4)), coach.lay(mills(cycles=4, spoken=True))
    assert not any(sound.startswith("say") for sound in clicked.cues.sound)
    assert any(sound.startswith("say") for sound in spoken.cues.sound)
    np.testing.assert_array_equal(spoken.moments.time, clicked.moments.time)


def test_on_a_routine_it_is_laid_on_the_counts_as_corrected(opened: coach.OpenRoutine) -> None:
    plan = coach.lay(on_music(opened, from_eight=2, eights=1, lead_in_counts=4))
    assert [(eight.number, eight.start, eight.length) for eight in plan.eights] == [(2, 8, 8)]
    assert plan.tempo_bpm is None
    assert plan.music == (str(Path(opened.heard.path).resolve()), content_hash(opened.heard.path))
    # four counts of lead-in, so the take begins at count 5 of the first eight, at 2.5 s of the music
    assert plan.pieces[0].music_start == pytest.approx(2.5)
    np.testing.assert_allclose(plan.moments.time, 2 + 0.5 * (1 + np.arange(8)))
    slow = coach.lay(on_music(opened, from_eight=2, eights=1, lead_in_counts=4, speed=0.5))
    np.testing.assert_allclose(slow.moments.time, 2 * plan.moments.time)
    late = coach.lay(on_music(opened, from_eight=2, from_count=3.0, cycles=1, lead_in_counts=4))
    assert late.cycle_starts.tolist() == [10]


def test_what_has_been_heard_is_not_heard_again(opened: coach.OpenRoutine) -> None:
    """The same plan by the routine's file, by the counts of the opened one, and by its JSON."""
    asked = on_music(opened, from_eight=2, eights=1)
    by_file = plan_to_dict(coach.lay(asked))
    gone = replace(asked, music="nowhere.toml")
    assert plan_to_dict(coach.lay(gone, heard=coach.counts_of(opened))) == by_file


@pytest.mark.parametrize("name", ["plan.json", "mein Plan é 音.json"])
def test_a_plan_from_options_equals_the_plan_from_its_file(
    opened: coach.OpenRoutine, tmp_path: Path, name: str
) -> None:
    for plan in (
        coach.lay(mills(cycles=4, spoken=True)),
        run_through(opened),
        coach.lay_every_count(4.0, tempo_bpm=60),
    ):
        (tmp_path / name).write_text(json.dumps(plan_to_dict(plan)), encoding="utf-8")
        assert plan_to_dict(read_plan(tmp_path / name)) == plan_to_dict(plan)


def test_what_is_odd_about_a_routine_is_said(opened: coach.OpenRoutine, tmp_path: Path) -> None:
    long = Laid("clubs_mills", Position(3, 1.0), 9)
    path = tmp_path / "too long.toml"
    coach.save_routine(replace(opened, path=path, routine=replace(opened.routine, laid=(long,))))
    said: list[str] = []
    coach.lay(mills(music=str(path), eights=1), warn=into(said))
    assert any(sentence.startswith(f"{path}: ") for sentence in said)


def test_hearing_the_music_tells_its_progress(opened: coach.OpenRoutine) -> None:
    """With hints of their own, for the same music with the same hints is heard once in a run of the tests."""
    told: list[float] = []
    coach.lay(mills(music=opened.heard.path, tempo_bpm=119, eights=1), progress=told.append)
    assert told[-1] == 1
    told.clear()
    coach.lay_every_count(0.0, music=opened.heard.path, tempo_bpm=118, progress=told.append)
    assert told[-1] == 1


@pytest.mark.parametrize(
    ("more", "where", "message", "hint"),
    [
        ({"tempo_bpm": 5}, "--tempo", "expected a tempo of 20 to 400 beats a minute, got 5", None),
        ({"speed": 9.0}, "--speed", "expected a speed of 0.5 to 1.2, got 9", None),
        ({"lead_in_counts": 33}, "--lead-in", "expected a lead-in of 0 to 32 counts, got 33", None),
        ({"from_eight": 0}, "--from-eight", "expected a number from 1 to 20000, got 0", None),
        ({"hand": "foot"}, "clubs_mills", "expected one of its hands (right, left), got 'foot'", None),
        (
            {"cycles": 2, "cues": "thinning"},
            "--cues",
            "cues thin out over 5 cycles or more, and there are 2",
            "ask for more cycles or eights",
        ),
        (
            {"drill": "club_mills"},
            "club_mills",
            "there is no drill of that name, and no file either",
            "did you mean clubs_mills?",
        ),
        (
            {"music": "gone.wav"},
            "gone.wav",
            "expected a sound file (wav, flac, ogg, opus or mp3), but there is no such file",
            "check the name and the folder",
        ),
    ],
)
def test_what_cannot_be_laid_is_said(more: dict[str, object], where: str, message: str, hint: str | None) -> None:
    with pytest.raises(CoachError) as caught:
        coach.lay(mills(**more))
    assert (caught.value.where, message_of(caught.value), hint_of(caught.value)) == (where, message, hint)


def test_a_passage_that_does_not_fit_is_said_with_what_helps(opened: coach.OpenRoutine) -> None:
    with pytest.raises(CoachError) as caught:
        coach.lay(on_music(opened, from_eight=2, eights=9))
    assert message_of(caught.value) == "the passage would end in eight 10, but the music ends in eight 3"
    assert caught.value.where == str(Path(opened.heard.path).resolve())
    assert hint_of(caught.value) == "start earlier or ask for less"
    with pytest.raises(CoachError) as caught:
        coach.lay(on_music(opened, from_eight=40))
    assert message_of(caught.value) == "no whole cycle of 2 counts fits into the passage"
    assert (caught.value.where, hint_of(caught.value)) == ("clubs_mills", "start earlier")


def test_a_routine_has_a_tempo_of_its_own(opened: coach.OpenRoutine) -> None:
    with pytest.raises(CoachError) as caught:
        coach.lay(on_music(opened, tempo_bpm=100))
    assert message_of(caught.value) == "the routine says how its music is counted"
    assert (caught.value.where, hint_of(caught.value)) == ("--tempo", "leave the tempo out")


def run_through(opened: coach.OpenRoutine, **more: object) -> Plan:
    return coach.lay_routine(opened, coach.Request("", **more))  # type: ignore[arg-type]  # options of it


def test_a_routine_is_laid_whole_or_some_of_its_eights(opened: coach.OpenRoutine) -> None:
    plan = run_through(opened, lead_in_counts=0)
    assert (plan.drill, plan.title, plan.hands) == ("my routine", "my routine", ("right", "left"))
    assert plan.music == (str(Path(opened.heard.path).resolve()), content_hash(opened.heard.path))
    # mills on counts 0 to 7; of the other drill, from count 20 on, the mirrored left hand, which leads
    assert plan.moments.count.tolist() == [*range(1, 9), 21, 23]
    assert plan.moments.hand == ("right", "left") * 4 + ("left", "left")
    np.testing.assert_allclose(plan.moments.time, 0.5 * plan.moments.count)
    assert run_through(opened).lead_in_counts == 8
    one = run_through(opened, eights=1, speed=0.5, lead_in_counts=2, cues="none", spoken=True)
    assert [eight.number for eight in one.eights] == [1]
    np.testing.assert_allclose(one.moments.time, 2 * 0.5 * (2 + np.arange(1, 9)))
    assert (one.cue_way, one.lead_in_counts) == ("none", 2)
    assert run_through(opened, from_eight=3).eights[0].number == 3
    assert any(sound.startswith("say") for sound in run_through(opened, spoken=True).cues.sound)
    assert not any(sound.startswith("say") for sound in plan.cues.sound)


@pytest.mark.parametrize(
    ("more", "where", "message"),
    [
        ({"from_eight": 2, "eights": 1}, "my routine", "nothing is laid on these eights"),
        ({"from_eight": 9}, "--from-eight", "expected an eight of the music, 1 to 3, got 9"),
        ({"cues": "thinning"}, "--cues", "cues thin out in one drill, not in a whole routine"),
    ],
)
def test_a_run_through_that_cannot_be_is_said(
    opened: coach.OpenRoutine, more: dict[str, object], where: str, message: str
) -> None:
    with pytest.raises(CoachError) as caught:
        run_through(opened, **more)
    assert (caught.value.where, message_of(caught.value)) == (where, message)


def test_every_count_of_a_tempo_or_of_music_is_a_moment(opened: coach.OpenRoutine) -> None:
    plan = coach.lay_every_count(3.2, tempo_bpm=120)
    assert (plan.tempo_bpm, plan.music) == (120, None)
    np.testing.assert_allclose(plan.moments.time, 0.5 * np.arange(plan.moments.time.size))
    assert plan.duration >= 3.2
    plan = coach.lay_every_count(0.0, music=str(opened.path))
    assert (plan.tempo_bpm, plan.music) == (
        None,
        (str(Path(opened.heard.path).resolve()), content_hash(opened.heard.path)),
    )
    np.testing.assert_allclose(plan.moments.time, BEATS)


def test_every_count_needs_a_tempo_in_its_range_or_music() -> None:
    with pytest.raises(ValueError, match="expected a tempo or music"):
        coach.lay_every_count(4.0)
    with pytest.raises(CoachError) as caught:
        coach.lay_every_count(4.0, tempo_bpm=401)
    assert (caught.value.where, message_of(caught.value)) == (
        "--tempo",
        "expected a tempo of 20 to 400 beats a minute, got 401",
    )
    with refused("there is no such file"):
        coach.lay_every_count(4.0, music="gone.wav")


def first_sound(sound: Sound, time: float) -> float:
    """Seconds of the first sample from a little before that time on that is not silent."""
    begin = max(0, round((time - 0.01) * sound.rate_hz))
    return (begin + int(np.flatnonzero(np.abs(sound.samples[begin:]).max(axis=1) > 1e-4)[0])) / sound.rate_hz


def test_without_music_the_cues_sound_at_48_khz_on_their_moments() -> None:
    plan = coach.lay(mills(cycles=2, lead_in_counts=1))
    sound = coach.cue_sound(plan)
    assert sound.rate_hz == CUE_RATE_HZ == 48_000
    assert sound.duration >= plan.duration
    for time in plan.cues.time:
        assert first_sound(sound, float(time)) == pytest.approx(time, abs=0.002)


def test_with_music_they_sound_at_its_rate_or_at_the_asked_one(opened: coach.OpenRoutine) -> None:
    plan = coach.lay(on_music(opened, eights=1, lead_in_counts=2, cues="none"))
    sound = coach.cue_sound(plan)
    assert sound.rate_hz == RATE_HZ
    assert coach.cue_sound(plan, rate_hz=16_000).rate_hz == 16_000
    np.testing.assert_array_equal(coach.cue_sound(plan, music=opened.heard.sound).samples, sound.samples)
    silent = Sound(np.zeros_like(opened.heard.sound.samples), RATE_HZ)
    assert np.abs(coach.cue_sound(plan, music=silent).samples).max() < np.abs(sound.samples).max()


def test_slowed_music_is_as_long_as_the_plan_and_progress_is_told(opened: coach.OpenRoutine) -> None:
    plan = coach.lay(on_music(opened, eights=1, lead_in_counts=0, speed=0.8))
    told: list[float] = []
    sound = coach.cue_sound(plan, progress=told.append)
    assert sound.duration >= plan.duration - 0.01
    assert plan.duration == pytest.approx(8 * 0.5 / 0.8)
    assert told and told == sorted(told)


def test_music_is_never_added_to_a_plan_without_any(opened: coach.OpenRoutine) -> None:
    plan = coach.lay(mills(cycles=2))
    given = coach.cue_sound(plan, music=opened.heard.sound)
    assert given.rate_hz == CUE_RATE_HZ
    np.testing.assert_array_equal(given.samples, coach.cue_sound(plan).samples)


@pytest.mark.parametrize("rate_hz", [3999, 768_001])
def test_a_rate_out_of_its_range_is_said(rate_hz: int) -> None:
    with pytest.raises(CoachError) as caught:
        coach.cue_sound(coach.lay(mills(cycles=2)), rate_hz=rate_hz)
    assert message_of(caught.value) == f"expected a rate of 4000 to 768000 Hz, got {rate_hz}"
    assert caught.value.where == "--rate"


def test_spoken_counts_are_spoken_by_the_asked_voice() -> None:
    plan = coach.lay(mills(cycles=2, spoken=True))
    assert not np.array_equal(coach.cue_sound(plan).samples, coach.cue_sound(coach.lay(mills(cycles=2))).samples)
    with pytest.raises(CoachError):
        coach.cue_sound(plan, voice="no such voice")
    coach.cue_sound(coach.lay(mills(cycles=2)), voice="no such voice")  # nobody speaks: nobody is looked for


def test_music_that_has_gone_is_said(opened: coach.OpenRoutine) -> None:
    plan = run_through(opened)
    moved = replace(plan, music=plan.music._replace(path="gone.wav"))  # type: ignore[union-attr]  # it has music
    with pytest.raises(CoachError) as caught:
        coach.cue_sound(moved)
    assert caught.value.where == "gone.wav"

"""Between the state machine, a player and the disk, without any screen."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

import pytest

from tempo_coach.coach.practising.conductor import Conductor
from tempo_coach.live.notices import Code, Notice, Trouble
from tempo_coach.live.practice.session import Stage, Way
from tempo_coach.live.setup.calibration import Setup
from tempo_coach.observe.take.take_file import read_take_file
from tempo_coach.pattern.drill.drill import TempoChange, TempoSteps
from tempo_coach.report.words.live import say_notice
from tempo_coach.ui.practice.told_take import tell_take
from tests.ui import fakes

T = TypeVar("T")
PLAN = fakes.lay("clubs_mills", tempo_bpm=120, cycles=8)


def at_once(work: Callable[[], T], then: Callable[[T], None]) -> None:
    then(work())


def conduct(**options: object) -> tuple[Conductor, fakes.Stage]:
    stage = fakes.Stage(PLAN, **options)  # type: ignore[arg-type]
    return Conductor(stage.context, aside=at_once, clock=stage.clock), stage


def play(conductor: Conductor, stage: fakes.Stage, *, late: float = 0.0, until: float = 99.0) -> None:
    """Press every moment's key, and let the passage end."""
    conductor.tick()
    zero = stage.clock.now
    for time, hand in zip(PLAN.moments.time, PLAN.moments.hand, strict=True):
        if time < until:
            stage.clock.now = zero + float(time) + late
            conductor.press({"right": "j", "left": "f"}[hand], stage.clock.now)
            conductor.tick()


START = {"keys": "jf", "at_once": True}


def test_a_whole_take_reaches_the_disk_and_the_scorecard(tmp_path: Path) -> None:
    conductor, stage = conduct(folder=tmp_path, options=START)
    play(conductor, stage, late=0.02)
    stage.clock.now += 2
    conductor.tick()
    assert conductor.session.stage is Stage.AFTER
    (done,) = conductor.takes.done
    assert done.card.value("bias_ms") == pytest.approx(20.0, abs=0.01) and len(done.card.missed) == 0
    file = read_take_file(tmp_path / "1.take.jsonl")
    assert file.ended == "passage" and file.player == "fake sound"
    assert len(file.take.onsets) == len(PLAN.moments)
    assert file.take.onsets.time == pytest.approx(done.take.onsets.time, abs=0)


def test_every_onset_is_in_the_file_while_the_take_still_runs(tmp_path: Path) -> None:
    conductor, stage = conduct(folder=tmp_path, options=START)
    play(conductor, stage, until=6.0)
    asked = int((PLAN.moments.time < 6.0).sum())
    lines = (tmp_path / "1.take.jsonl").read_bytes().splitlines()
    assert len(lines) == 1 + asked and conductor.session.stage is Stage.PLAYING
    conductor.leave()
    assert stage.player.closed and read_take_file(tmp_path / "1.take.jsonl").ended == ""


def test_enter_ends_a_take_and_what_came_after_is_not_missed(tmp_path: Path) -> None:
    conductor, stage = conduct(folder=tmp_path, options=START)
    play(conductor, stage, until=8.1)
    conductor.enter(stage.clock.now)
    (done,) = conductor.takes.done
    assert len(done.card.missed) == 0 and 0 < done.take.plan.cycles < PLAN.cycles
    assert read_take_file(tmp_path / "1.take.jsonl").ended == "enter"


def test_without_sound_it_runs_on_a_silent_clock_and_says_both(tmp_path: Path) -> None:
    conductor, stage = conduct(folder=tmp_path, fails=Notice(Trouble.NO_DEVICE), options=START)
    conductor.tick()
    conductor.tick()
    assert conductor.session.stage is Stage.PLAYING and stage.player.closed and stage.silent.starts == 1
    picture = conductor.picture()
    assert picture.sentence == f"{say_notice(Trouble.NO_DEVICE)} Running on the silent clock."
    play(conductor, stage)
    stage.clock.now += 2
    conductor.tick()
    assert len(conductor.takes.done[0].card.missed) == 0
    assert read_take_file(tmp_path / "1.take.jsonl").player == "silent clock"


def test_a_break_in_the_sound_pauses_and_nothing_is_lost(tmp_path: Path) -> None:
    conductor, stage = conduct(folder=tmp_path, options=START)
    play(conductor, stage, until=6.0)
    before = len(conductor.session.onsets)
    stage.player.break_off(Notice(Trouble.LOST))
    conductor.tick()
    assert conductor.session.stage is Stage.PAUSED and conductor.picture().sentence == say_notice(Trouble.LOST)
    stage.player.come_back(Notice(Code.BACK))
    conductor.tick()
    assert "to go on" in conductor.picture().next_in
    conductor.press("j", stage.clock.now)
    conductor.tick()
    assert conductor.session.stage is Stage.PLAYING and len(conductor.session.onsets) == before


def test_a_take_that_cannot_be_written_is_said_and_scored_all_the_same(tmp_path: Path) -> None:
    (tmp_path / "1.take.jsonl").write_text("mine")
    conductor, stage = conduct(folder=tmp_path, options=START)
    play(conductor, stage, until=6.0)
    assert "cannot be written" in conductor.picture().sentence
    stage.clock.now += 20
    conductor.tick()
    assert conductor.takes.done[0].told and conductor.takes.done[0].card.measures["bias_ms"].n > 0
    assert (tmp_path / "1.take.jsonl").read_text() == "mine"


def test_steady_takes_bring_the_tempo_up_and_the_next_plan_has_it() -> None:
    way = Way(takes=3, rest=5.0, steps=TempoSteps(60, 140, step=4, steady_takes=1))
    conductor, stage = conduct(options={**START, "way": way})
    play(conductor, stage)
    stage.clock.now += 2
    conductor.tick()
    assert conductor.session.stage is Stage.RESTING and conductor.session.plan.tempo_bpm == 124.0
    assert conductor.session.tempo_step == (TempoChange.UP, 124.0, 1)
    stage.clock.now += 6
    conductor.tick()
    conductor.tick()
    assert conductor.session.stage is Stage.PLAYING and stage.player.starts == 2


def test_where_nobody_taps_no_key_is_asked_for_and_keys_do_nothing() -> None:
    conductor, _ = conduct(options={"observed_by": "film"})
    assert conductor.session.stage is Stage.WAITING
    conductor.press("j", 0.0)
    assert conductor.session.onsets == ()


def test_the_interpreter_is_steadied_for_a_take_and_let_go_after_it_however_it_ends() -> None:
    said: list[str] = []

    @contextmanager
    def steady() -> Iterator[None]:
        said.append("in")
        yield
        said.append("out")

    conductor, stage = conduct(options={**START, "steady": steady})
    assert said == ["in"]
    play(conductor, stage, until=6.0)
    conductor.enter(stage.clock.now)
    assert said == ["in", "out"]
    other, _ = conduct(options={**START, "steady": steady})
    other.leave()
    assert said == ["in", "out"] * 2


def test_what_the_setup_adds_is_taken_out_of_a_take_and_kept_with_it(tmp_path: Path) -> None:
    asked: list[str] = []

    def setup_of(device: str) -> Setup:
        asked.append(device)
        return Setup(
            delay=0.04, noise_floor_ms=0.7, found_by="taps to clicks", notice=Notice(Code.DELAY_CHANGES, (40.0,))
        )

    conductor, stage = conduct(folder=tmp_path, options={**START, "setup_of": setup_of})
    conductor.tick()
    assert conductor.picture().sound == say_notice(Code.DELAY_CHANGES, (40.0,))
    play(conductor, stage, late=0.05)
    stage.clock.now += 2
    conductor.tick()
    (done,) = conductor.takes.done
    assert asked == ["fake sound"] and done.device == "fake sound" and done.setup.delay == 0.04
    assert done.card.value("bias_ms") == pytest.approx(10.0, abs=0.01)
    again = read_take_file(tmp_path / "1.take.jsonl").take
    assert again.noise_floor_ms == 0.7 and again.calibrated and done.take.calibrated
    assert done.card.noise_floor_ms == 0.7


def test_the_words_of_a_take_are_shown_as_signs_and_the_last_one_stays_a_second() -> None:
    conductor, stage = conduct(options=START)
    play(conductor, stage, until=11.0)
    picture = conductor.picture()
    signs = picture.so_far.split()
    assert set(signs) == {"="} and len(signs) > 3
    assert picture.word == "steady"


def test_walking_in_is_heard_and_a_few_words_are_said_after_the_take() -> None:
    click = fakes.Sound(fakes.np.ones((80, 1), fakes.np.float32), 8000)
    said: list[bool] = []

    def verdict(card: object, previous: object, again: bool) -> fakes.Sound:
        said.append(again)
        return click

    options = {**START, "way": Way(ready=4, takes=2), "walk_in": lambda seconds: click, "verdict": verdict}
    conductor, stage = conduct(options=options)
    assert stage.player.starts == 1 and len(stage.player.samples) == 80
    for _ in range(2):
        stage.clock.now += 2
        conductor.tick()
    play(conductor, stage)
    stage.clock.now += 2
    conductor.tick()
    assert said == [True] and stage.player.starts == 3 and len(conductor.takes.done) == 1
    assert len(conductor.takes.done[0].card.missed) == 0


def test_where_walking_in_cannot_be_heard_the_take_says_why() -> None:
    click = fakes.Sound(fakes.np.ones((80, 1), fakes.np.float32), 8000)
    conductor, stage = conduct(
        fails=Notice(Trouble.NO_ROOM), options={**START, "way": Way(ready=4), "walk_in": lambda seconds: click}
    )
    conductor.tick()
    assert conductor.session.stage is Stage.WALKING
    for _ in range(4):
        stage.clock.now += 2
        conductor.tick()
    assert conductor.session.stage is Stage.PLAYING and "No sound: " in conductor.picture().sentence


def test_a_long_practice_holds_two_takes_and_every_path(tmp_path: Path) -> None:
    conductor, stage = conduct(folder=tmp_path, options=START)
    for number in range(1, 5):
        conductor.tick()
        stage.clock.now += 1
        conductor.enter(stage.clock.now)
        assert conductor.session.stage is Stage.AFTER and conductor.session.number == number
        conductor.enter(stage.clock.now)
    assert [done.path for done in conductor.takes.done] == conductor.takes.paths[-2:]
    assert conductor.takes.paths == [tmp_path / f"{number}.take.jsonl" for number in range(1, 5)]


def test_where_nobody_observes_it_just_plays_and_nothing_is_told_or_written(tmp_path: Path) -> None:
    conductor, stage = conduct(folder=None, options={"observed_by": "nobody", "at_once": True})
    play(conductor, stage)
    stage.clock.now += 2
    conductor.tick()
    assert conductor.session.stage is Stage.AFTER and not conductor.session.hands
    (done,) = conductor.takes.done
    assert done.path is None and not len(done.take.onsets)
    told = tell_take(done, None, conductor.session)
    assert (told.head, told.judged) == ("played", False) and "no taps" not in told


def test_a_key_makes_the_next_take_slower_and_its_samples_are_those_of_the_last_press() -> None:
    waiting: list[Callable[[], None]] = []

    def aside(work: Callable[[], T], then: Callable[[T], None]) -> None:
        waiting.append(lambda: then(work()))

    stage = fakes.Stage(PLAN, options={**START, "tempi": TempoSteps(60, 140, 6)})
    conductor = Conductor(stage.context, aside=aside, clock=stage.clock)
    waiting.pop()()
    play(conductor, stage)
    stage.clock.now += 2
    conductor.tick()
    waiting.pop()()  # judged
    waiting.pop()()  # prepared
    conductor.change_tempo(-1)
    conductor.change_tempo(-1)
    for each in reversed(waiting):  # the first press is done last
        each()
    assert conductor.session.tempo_asked == 108 and conductor.session.prepared
    assert conductor.session.plan.tempo_bpm == 108
    conductor.change_tempo(-99)
    assert conductor.session.tempo_bpm == 60


def test_what_loops_goes_on_from_its_beginning_on_the_screen() -> None:
    conductor, stage = conduct(options={"observed_by": "nobody", "at_once": True, "loops": True})
    conductor.tick()
    stage.clock.now += 2 * stage.player.duration + 1.5
    conductor.tick()
    assert stage.player.loops and conductor.session.stage is Stage.PLAYING
    assert conductor.session.position == pytest.approx(1.5)
    conductor.enter(stage.clock.now)
    assert conductor.session.stage is Stage.AFTER

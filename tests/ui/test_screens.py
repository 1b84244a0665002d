"""The screens, driven by keys, with a clock and a sound that do what the test says."""

from __future__ import annotations

import math
import os
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.coach import archiving
from tempo_coach.coach.practising import start as starting
from tempo_coach.coach.practising.conductor import Conductor
from tempo_coach.coach.practising.form import make_form
from tempo_coach.coach.practising.practice import EarlierTakes, FinishedTake
from tempo_coach.errors import CoachError
from tempo_coach.history.data_folder import FILE_VARIABLE
from tempo_coach.live.notices import Code, Notice, Trouble
from tempo_coach.live.practice.course import begin
from tempo_coach.live.practice.session import Stage, Way
from tempo_coach.observe.take.take_file import make_take
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.words.errors import say_error
from tempo_coach.report.words.places import tell_lost
from tempo_coach.ui.app import CoachApp
from tempo_coach.ui.glyphs import draw_letters
from tempo_coach.ui.palette import PLAIN
from tempo_coach.ui.practice.after import draw_after
from tempo_coach.ui.practice.practise import PractiseScreen
from tempo_coach.ui.row_widgets import Card
from tests.ui import fakes, snapshots
from tests.ui.fakes import in_a_loop, lay, rows, wait_until

if TYPE_CHECKING:
    from textual.pilot import Pilot

    from tempo_coach.observe.take.onsets import Take

SIZES = ((80, 24), (100, 30))
DRILLS = ("clubs_mills", "rope_figure_eight")


def open_app(stage: fakes.Stage) -> CoachApp:
    return CoachApp(make_form(DRILLS), stage.context, clock=stage.clock)


def conductor_of(app: CoachApp) -> Conductor:
    assert isinstance(app.screen, PractiseScreen) and app.screen.conductor is not None
    return app.screen.conductor


def shown(app: CoachApp) -> str:
    return "\n".join(rows(app))


async def start(app: CoachApp, pilot: Pilot[int], *keys: str) -> None:
    await wait_until(pilot, lambda: isinstance(app.screen, PractiseScreen) and app.screen.conductor is not None)
    await pilot.press(*keys)
    await wait_until(pilot, lambda: conductor_of(app).session.stage is Stage.PLAYING)


async def play(
    app: CoachApp, pilot: Pilot[int], stage: fakes.Stage, *, after: float = 0.0, until: float = math.inf
) -> None:
    """Tap every moment that is asked between two times, each a little off in its own way and one of them late."""
    zero, moments = stage.clock.now, stage.plan.moments
    keys = dict(conductor_of(app).session.keys)
    for k, (time, hand) in enumerate(zip(moments.time, moments.hand, strict=True)):
        if not after <= time < until:
            continue
        off = 0.15 if k == 10 else 0.01 * math.sin(2.4 * k)
        stage.clock.now = zero + float(time) + off
        await pilot.press(keys[hand])
    stage.clock.now = zero + (until if math.isfinite(until) else stage.plan.duration + 1)


def test_from_the_keys_of_her_hands_to_the_scorecard(tmp_path: Path) -> None:
    async def run() -> None:
        stage = fakes.Stage(lay("clubs_mills", tempo_bpm=120, cycles=8), folder=tmp_path)
        app = open_app(stage)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: "press the key for" in shown(app))
            await start(app, pilot, "x", "b", "enter")
            assert dict(conductor_of(app).session.keys) == {"right": "x", "left": "b"}
            await play(app, pilot, stage)
            await wait_until(pilot, lambda: "kept in" in shown(app))
            card = conductor_of(app).takes.done[0].card
            assert len(card.missed) == 0 and len(card.extra_time) == 0
            assert "say" in shown(app) and "late" in shown(app) and "cycle" in shown(app)
            await pilot.press("ctrl+q")
        assert app.return_value == 0 and stage.player.closed

    in_a_loop(run())


def test_enter_enter_plays_and_enter_ends(tmp_path: Path) -> None:
    async def run() -> None:
        stage = fakes.Stage(lay("clubs_mills", tempo_bpm=120), folder=tmp_path)
        app = open_app(stage)
        async with app.run_test(size=(80, 24)) as pilot:
            await start(app, pilot, "enter")
            await play(app, pilot, stage, until=7.0)
            await pilot.press("enter")
            await wait_until(pilot, lambda: "kept in" in shown(app))
            assert len(conductor_of(app).takes.done[0].card.missed) == 0
            # whoever presses once more at once starts nothing
            await pilot.press("enter")
            assert conductor_of(app).session.stage is Stage.AFTER
            stage.clock.now += 3
            await pilot.press("enter")
            await wait_until(pilot, lambda: conductor_of(app).session.stage is Stage.PLAYING)
            assert conductor_of(app).session.number == 2

    in_a_loop(run())


@pytest.mark.parametrize("key", ["q", "escape", "space", "s", "tab", "up", "f1"])
def test_while_a_take_runs_no_key_but_enter_and_ctrl_q_does_anything(key: str) -> None:
    async def run() -> None:
        stage = fakes.Stage(lay("clubs_mills"), options={"keys": "jf", "at_once": True})
        app = open_app(stage)
        async with app.run_test(size=(80, 24)) as pilot:
            await start(app, pilot)
            before = shown(app)
            await pilot.press(key)
            assert conductor_of(app).session.stage is Stage.PLAYING
            assert conductor_of(app).session.onsets == ()
            assert shown(app) == before

    in_a_loop(run())


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_how_the_screens_look(width: int, height: int) -> None:
    async def run() -> None:
        stage = fakes.Stage(
            lay("rope_figure_eight", cycles=10),
            options={"caution": "keep clear space all round you", "way": Way(ready=10)},
        )
        app = open_app(stage)
        async with app.run_test(size=(width, height)) as pilot:

            def look(name: str) -> None:
                assert isinstance(app.screen, PractiseScreen)
                app.screen.draw()
                snapshots.check(name, rows(app), width=width, height=height)

            await wait_until(pilot, lambda: "press the key for" in shown(app))
            look("asking")
            await pilot.press("j", "enter")
            stage.clock.now += 2.5
            look("walking_in")
            stage.clock.now += 8
            await wait_until(pilot, lambda: conductor_of(app).session.stage is Stage.PLAYING)
            zero = stage.clock.now
            stage.clock.now = zero + 3.1
            look("lead_in")
            stage.clock.now = zero
            await play(app, pilot, stage, until=13.0)
            look("playing")
            stage.player.break_off(Notice(Trouble.LOST))
            await wait_until(pilot, lambda: "PAUSED" in str(conductor_of(app).session.stage).upper())
            look("paused")
            stage.player.come_back(Notice(Code.BACK))
            await pilot.pause(0.2)
            await pilot.press("j")
            await wait_until(pilot, lambda: conductor_of(app).session.stage is Stage.PLAYING)
            stage.clock.now = zero
            await play(app, pilot, stage, after=13.0)
            await wait_until(pilot, lambda: "kept in" in shown(app))
            await pilot.pause(0.2)
            snapshots.check("after", rows(app), width=width, height=height)

    in_a_loop(run())


def test_a_screen_that_is_too_small_says_so_and_does_not_fail() -> None:
    async def run() -> None:
        stage = fakes.Stage(lay("clubs_mills"), options={"keys": "jf", "at_once": True})
        app = open_app(stage)
        async with app.run_test(size=(50, 12)) as pilot:
            await start(app, pilot)
            await wait_until(pilot, lambda: "80 columns and 24 rows" in shown(app))

    in_a_loop(run())


def test_samples_that_cannot_be_made_end_in_a_sentence_not_in_a_trace() -> None:
    async def run() -> None:
        stage = fakes.Stage(lay("clubs_mills"))

        def fails(_: float) -> object:
            raise CoachError("music.changed")

        stage.context = fakes.PracticeContext(**{**vars(stage.context), "sound_of": fails})
        app = open_app(stage)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: app.trouble is not None)
        assert "music has changed" in say_error(app.trouble)

    in_a_loop(run())


def test_with_no_color_nothing_is_coloured_and_everything_is_there(monkeypatch: pytest.MonkeyPatch) -> None:
    """NO_COLOR (no-color.org): set and not empty means no colour is added, whatever else is styled."""
    monkeypatch.setenv("NO_COLOR", "1")

    async def run() -> None:
        stage = fakes.Stage(lay("clubs_mills"), options={"keys": "jf", "at_once": True})
        app = open_app(stage)
        async with app.run_test(size=(80, 24)) as pilot:
            await start(app, pilot)
            await play(app, pilot, stage, until=10.0)
            await wait_until(pilot, lambda: "█" in shown(app))
            card = app.screen.query_one(Card)
            for y in range(24):
                for segment in card.render_line(y):
                    style = segment.style
                    assert style is None or (style.color is None and style.bgcolor is None), segment

    in_a_loop(run())


def test_what_c_libraries_write_goes_to_a_log_and_the_screen_stays_whole(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    from tempo_coach.ui.terminal import screen_to_itself

    before = sys.__stderr__
    with screen_to_itself(tmp_path / "log") as log:
        os.write(2, b"ALSA lib: underrun\n")
        assert sys.__stderr__ is not None
        print("drawn", file=sys.__stderr__, flush=True)
    assert log.read_text() == "ALSA lib: underrun\n"
    assert sys.__stderr__ is before
    said = capfd.readouterr().err
    assert "drawn" in said and "ALSA" not in said
    os.write(2, b"afterwards\n")
    assert "afterwards" in capfd.readouterr().err


@pytest.mark.parametrize("link", [False, True])
def test_a_log_is_never_written_into_what_somebody_laid_there(tmp_path: Path, link: bool) -> None:
    from tempo_coach.ui.terminal import screen_to_itself

    hers = tmp_path / "hers"
    hers.write_text("hers")
    log = tmp_path / "log"
    log.symlink_to(hers) if link else log.write_text("hers")
    with screen_to_itself(log) as nowhere:
        os.write(2, b"ALSA lib: underrun\n")
    assert log.read_text() == hers.read_text() == "hers"
    assert nowhere == Path(os.devnull)


def test_a_log_has_a_folder_that_nobody_else_can_write_to(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from tempo_coach.ui import terminal

    monkeypatch.setattr(terminal.tempfile, "tempdir", str(tmp_path))
    with terminal.screen_to_itself() as log:
        os.write(2, b"ALSA lib: underrun\n")
        assert log.parent.parent == tmp_path
        if os.name == "posix":
            assert log.parent.stat().st_mode & 0o777 == 0o700 and log.stat().st_mode & 0o777 == 0o600
    assert log.read_text() == "ALSA lib: underrun\n"
    monkeypatch.setattr(terminal.tempfile, "tempdir", str(tmp_path / "nowhere"))
    with terminal.screen_to_itself() as log:
        os.write(2, b"ALSA lib: underrun\n")
    assert log == Path(os.devnull)


def test_the_screens_refuse_to_start_without_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    from tempo_coach.cli import main

    monkeypatch.setattr(sys.stdin, "isatty", lambda: False, raising=False)
    assert main(["practise", "clubs_mills"]) == 1


def test_the_head_of_the_card_is_drawn_from_edge_to_edge() -> None:
    async def run() -> None:
        stage = fakes.Stage(lay("clubs_mills"))
        app = open_app(stage)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: "press the key for" in shown(app))
            assert {len(row) for row in rows(app)} == {80}
            assert re.match(r" Clubs: forward mills", rows(app)[0])
            head = app.screen.query_one(Card).render_line(0)
            assert all(segment.style is not None and segment.style.bgcolor is not None for segment in head)

    in_a_loop(run())


def test_a_take_in_which_nothing_was_tapped_says_what_to_press(tmp_path: Path) -> None:
    async def run() -> None:
        stage = fakes.Stage(lay("clubs_mills", cycles=8), folder=tmp_path, options={"keys": "jf", "at_once": True})
        app = open_app(stage)
        async with app.run_test(size=(80, 24)) as pilot:
            await start(app, pilot)
            stage.clock.now += stage.plan.duration + 1
            await wait_until(pilot, lambda: "No key was pressed" in shown(app))
            assert "right J" in shown(app) and "left F" in shown(app) and "missed" not in shown(app)

    in_a_loop(run())


@pytest.mark.parametrize("trouble", ["", "the disk is full, and this goes on and on; " * 3 + "end"])
def test_where_the_take_is_and_what_is_wrong_with_it_is_never_cut_at_its_end(trouble: str) -> None:
    told = (Reason(Why.RECORDING_UNWRITTEN, (trouble,)),) if trouble else ()
    take = make_take(lay("clubs_mills", cycles=8), [], observed_by="tap")
    path = Path("/", *(f"folder{k}" for k in range(20)), "1.take.jsonl")
    done = FinishedTake(take, coach.judge_take(take), path, told=told)
    session, _ = begin(take.plan, stamp=0.0, hands=())
    drawn = draw_after([done], session, width=80, height=30, first_row=0, palette=PLAIN).rows
    said = " ".join(" ".join(row.plain for row in drawn).split())
    assert (trouble in said) if trouble else ("kept in …" in said and "/1.take.jsonl" in said)


def test_a_key_that_scrolls_is_named_only_where_there_is_something_to_scroll() -> None:
    for cycles, named in ((4, False), (40, True)):
        plan = lay("clubs_mills", cycles=cycles)
        tapped = zip(plan.moments.time.tolist(), plan.moments.hand, strict=True)
        take = make_take(plan, tapped, observed_by="tap")
        session, _ = begin(plan, stamp=0.0, hands=())
        done = [FinishedTake(take, coach.judge_take(take), None)]
        page = draw_after(done, session, width=80, height=30, first_row=0, palette=PLAIN)
        assert (page.more > 0) is named


def tapped(
    spread: float, *, cycles: int = 16, seed: int = 1, unmeasurable: tuple[tuple[float, float], ...] = ()
) -> Take:
    plan = lay("clubs_mills", tempo_bpm=100, cycles=cycles)
    times = plan.moments.time + np.random.default_rng(seed).normal(0, spread, len(plan.moments))
    rows = zip(times.tolist(), plan.moments.hand, strict=True)
    return make_take(plan, rows, observed_by="tap", unmeasurable=unmeasurable)


def after(done: FinishedTake, **more: str) -> str:
    session, _ = begin(done.take.plan, stamp=0.0, hands=())
    drawn = draw_after([done], session, width=80, height=23, first_row=0, palette=PLAIN, **more).rows
    return "\n".join(row.plain for row in drawn)


def letters(text: str) -> str:
    return "\n".join(f"  {row}".rstrip() for row in draw_letters(text))


def test_a_take_is_compared_with_the_history_where_she_has_takes_like_it(tmp_path: Path) -> None:
    take = tapped(0.01)
    card, rougher = coach.judge_take(take), coach.judge_take(tapped(0.05, seed=2))
    for before, head, told in (
        (EarlierTakes(), "first take", "the next take is compared with it"),
        (EarlierTakes(14, rougher, "2031-05-04"), "steadier", "on 2031-05-04"),
        (EarlierTakes(14), "first like it", "none of them like this one (tempo, and how it was observed)"),
        (EarlierTakes(1), "first like it", "1 take of this drill is kept, none of them like this one"),
    ):
        shown = "\n".join(row.rstrip() for row in after(FinishedTake(take, card, None, before=before)).splitlines())
        assert letters(head) in shown and told in " ".join(shown.split()), head


def test_the_first_take_of_a_practice_is_compared_with_the_newest_one_of_the_history(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(FILE_VARIABLE, str(tmp_path / "history.sqlite"))
    for day in (3, 4):
        archiving.keep_take(tapped(0.05, seed=day), athlete="Ada", begun=f"2031-05-0{day}T10:00")
    context = starting.prepare_practice(
        coach.Request("clubs_mills", tempo_bpm=100, cycles=16), device="none", athlete="Ada"
    )
    assert context.before is not None
    before = context.before(tapped(0.01))
    assert (before.kept, before.day) == (2, "2031-05-04")
    assert before.card is not None and before.card.value("spread_ms") == pytest.approx(50, rel=0.4)
    nobody = starting.prepare_practice(coach.Request("clubs_mills"), device="none", athlete="Zoë")
    assert nobody.before is not None and nobody.before(tapped(0.01)).kept == 0
    stage = fakes.Stage(
        lay("clubs_mills", tempo_bpm=100, cycles=16), options={"before": context.before, "at_once": True}
    )
    conductor = Conductor(stage.context, aside=lambda work, then: then(work()), clock=stage.clock)
    for _ in range(2):
        stage.clock.now += 2.0
        conductor.tick()
        conductor.enter(stage.clock.now)
        conductor.tick()
    assert [done.before.kept for done in conductor.takes.done][:1] == [2]


def test_a_take_that_was_broken_off_is_called_so_and_not_the_first() -> None:
    take = tapped(0.02)
    shown = "\n".join(
        row.rstrip() for row in after(FinishedTake(take, coach.judge_take(take), None), alone="broken off").splitlines()
    )
    assert letters("broken off") in shown and "compared" not in shown


def test_the_card_says_which_moments_were_lost_with_the_sound() -> None:
    plan = lay("clubs_mills", tempo_bpm=100, cycles=16)
    gap = (float(plan.moments.time[4]) - 0.1, float(plan.moments.time[6]) + 0.1)
    take = tapped(0.01, unmeasurable=(gap,))
    card = coach.judge_take(take)
    assert tell_lost(card) and f"lost    {tell_lost(card)}" in after(FinishedTake(take, card, None))

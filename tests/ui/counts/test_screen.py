"""The screen on which counts are set, driven by keys and mouse, with a sound that does what the test says."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING
from unittest.mock import patch

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.coach import routines
from tempo_coach.live.notices import Notice, Trouble
from tempo_coach.music.beats.finder import Beats, Doubt, Rest
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.music.files.loudness import find_levels
from tempo_coach.music.files.sound_file import write_sound
from tempo_coach.pattern.routine.routine_file import read_routine
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.words.reasons import say_reason
from tempo_coach.ui.app import AloneApp
from tempo_coach.ui.counts.keys import GROUPS, find_key, place_of
from tempo_coach.ui.counts.screen import CountsScreen
from tempo_coach.ui.row_widgets import Card
from tests.generators.workplace import invented_music
from tests.ui import snapshots
from tests.ui.fakes import Clock, FakePlayer, in_a_loop, rows, wait_until

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from textual.pilot import Pilot

    from tempo_coach.coach import OpenRoutine

SIZES = ((80, 24), (100, 30))


@pytest.fixture(scope="module")
def music(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_music(tmp_path_factory.mktemp("music"))


@pytest.fixture
def opened(tmp_path: Path, music: Path) -> Iterator[OpenRoutine]:
    with open_invented(tmp_path, music) as opened:
        yield opened


def write_music(folder: Path) -> Path:
    path = folder / "invented.flac"
    write_sound(path, invented_music().sound)
    return path


@contextmanager
def open_invented(folder: Path, music: Path) -> Iterator[OpenRoutine]:
    """A new routine whose counts were found one beat short, one too many, and a one off."""
    beats = np.sort(np.append(np.delete(invented_music().beats, 27), invented_music().beats[70] + 0.27))
    pause = (float(invented_music().beats[47]), float(invented_music().beats[48]))
    missing = float(invented_music().beats[26])
    doubts = (Doubt(missing, Reason(Why.BEAT_MISSING)), Doubt(pause[0], Reason(Why.PAUSE, (2.4,))))
    found = Beats(
        beats,
        (np.arange(beats.size) + 2) % 4 + 1,
        np.ones(beats.size),
        (Rest(*pause),),
        doubts,
        invented_music().sound.duration,
    )
    heard = coach.Heard(str(music), invented_music().sound, found, CountMap.from_beats(found))
    with patch.object(routines, "hear", lambda *_, **__: heard):
        yield coach.begin_routine(folder / "my_routine.toml", music)


class Stage:
    """The screen, its clock and its player."""

    def __init__(self, opened: OpenRoutine) -> None:
        self.clock = Clock()
        self.player = FakePlayer(self.clock)
        levels = find_levels(opened.heard.sound)
        self.screen = CountsScreen(opened, levels, saved=False, make_player=lambda: self.player, clock=self.clock)
        self.app = AloneApp(self.screen)

    @property
    def shown(self) -> str:
        return "\n".join(self.rows)

    @property
    def rows(self) -> list[str]:
        return rows(self.app)


async def ready(stage: Stage, pilot: Pilot[int]) -> None:
    await wait_until(pilot, lambda: bool(stage.screen.query(Card)) and bool(stage.shown))


async def press(stage: Stage, pilot: Pilot[int], *keys: str) -> None:
    await ready(stage, pilot)
    await pilot.press(*keys)
    await pilot.pause()


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_the_sheet_at_two_sizes(opened: OpenRoutine, width: int, height: int) -> None:
    async def look() -> None:
        stage = Stage(opened)
        async with stage.app.run_test(size=(width, height)) as pilot:
            await press(stage, pilot, "down", "down", "right", "1", "n")
            assert all(len(row) == width for row in stage.rows)
            snapshots.check("counts", stage.rows, width=width, height=height)
            await pilot.press("?")
            await pilot.pause()
            snapshots.check("counts_keys", stage.rows, width=width, height=height)

    in_a_loop(look())


def test_the_routine_is_set_right_by_keys_and_saved(opened: OpenRoutine) -> None:
    """One count added, one dropped, the one set: 14 keys, and the file holds them as corrections."""
    keys = ["n", "a", *["down"] * 5, *["right"] * 4, "x", "ctrl+home", "1"]

    async def set_right() -> None:
        stage = Stage(opened)
        async with stage.app.run_test(size=(80, 24)) as pilot:
            await press(stage, pilot, *keys)
            assert "NOT SAVED" in stage.shown
            beats = stage.screen.setting.counts.beats
            assert beats.size == invented_music().beats.size
            assert np.abs(beats - invented_music().beats).max() < 0.06
            assert stage.screen.setting.counts.eights[:2] == ((0, 8), (8, 8))
            await pilot.press("ctrl+s")
            await pilot.pause()
            assert "Saved in my_routine.toml" in stage.shown and "NOT SAVED" not in stage.shown
            await pilot.press("ctrl+q")
        assert stage.app.return_code == 0

    in_a_loop(set_right())
    routine = read_routine(opened.path)
    assert [each.do for each in routine.corrections] == ["add", "drop", "one"]
    again = coach.open_routine(opened.path)
    assert again.said == ()
    assert again.counts.beats.size == invented_music().beats.size


def test_what_was_not_saved_lies_beside_the_routine_where_the_program_was_ended(opened: OpenRoutine) -> None:
    beside = opened.path.with_name("my_routine_unsaved.toml")

    async def end(*keys: str, asked: bool) -> None:
        stage = Stage(opened)
        async with stage.app.run_test(size=(80, 24)) as pilot:
            await press(stage, pilot, *keys)
            if asked:
                await pilot.press("ctrl+q", "ctrl+q")
            else:
                stage.app.exit()  # as a signal does

    for keys, asked in ((("n", "a"), True), ((), False), (("n", "a", "ctrl+s"), False)):
        in_a_loop(end(*keys, asked=asked))
        assert not beside.exists(), "she was asked, or there is nothing to lose"
    assert coach.tell_rescued(opened).said == opened.said
    in_a_loop(end("n", "a", "x", asked=False))
    assert [each.do for each in read_routine(beside).corrections] == ["add", "drop"]
    assert [each.do for each in read_routine(opened.path).corrections] == ["add"]  # as it was saved
    assert beside.name in say_reason(coach.tell_rescued(opened).said[0])
    in_a_loop(end("n", "a", asked=False))
    assert len(list(opened.path.parent.glob("my_routine_unsaved*.toml"))) == 2  # the first one is not overwritten


def test_everything_is_taken_back_and_done_again(opened: OpenRoutine) -> None:
    async def there_and_back() -> None:
        stage = Stage(opened)
        async with stage.app.run_test(size=(80, 24)) as pilot:
            await press(stage, pilot, "right", "l", "l", "a", "x", "4", "h", "c")
            setting = stage.screen.setting
            steps = len(setting.past)
            after = setting.counts
            await pilot.press(*["u"] * steps)
            assert stage.screen.setting.routine.corrections == ()
            np.testing.assert_array_equal(stage.screen.setting.counts.beats, opened.counts.beats)
            await pilot.press(*["r"] * steps)
            np.testing.assert_array_equal(stage.screen.setting.counts.beats, after.beats)
            assert stage.screen.setting.counts.eights == after.eights

    in_a_loop(there_and_back())


def test_listening_clicks_on_the_counts_and_the_sheet_follows(opened: OpenRoutine) -> None:
    async def listen() -> None:
        stage = Stage(opened)
        async with stage.app.run_test(size=(80, 24)) as pilot:
            await press(stage, pilot, "down", "down")
            begin = stage.screen.setting.time
            await pilot.press("space")
            await wait_until(pilot, lambda: stage.player.starts == 1)
            stage.clock.now += 20.0
            await wait_until(pilot, lambda: stage.screen.setting.time > begin + 18)
            assert "listening" in stage.shown and "┃" in stage.shown
            counts = stage.screen.setting.counts
            heard = int(np.searchsorted(counts.beats, begin + 20.0, side="right")) - 1
            assert stage.screen.setting.beat == heard
            await pilot.press("space")
            await wait_until(pilot, lambda: "listening" not in stage.shown)
            assert stage.screen.setting.beat == heard
        assert stage.player.closed

    in_a_loop(listen())


def test_sound_that_fails_is_said_and_nothing_is_lost(opened: OpenRoutine) -> None:
    async def listen() -> None:
        stage = Stage(opened)
        stage.player.fails = stage.player.notice = Notice(Trouble.NO_DEVICE)
        async with stage.app.run_test(size=(80, 24)) as pilot:
            await press(stage, pilot, "right", "l", "space")
            await wait_until(pilot, lambda: "No sound: no output device is there" in stage.shown)
            assert len(stage.screen.setting.routine.corrections) == 1

    in_a_loop(listen())


def test_a_stretch_is_tapped_anew_and_taken_back_with_one_key(opened: OpenRoutine) -> None:
    meant = invented_music().beats[20:44]
    taps = meant - 0.025 + np.random.default_rng(8).normal(0, 0.02, meant.size)

    async def tap() -> None:
        stage = Stage(opened)
        async with stage.app.run_test(size=(80, 24)) as pilot:
            await press(stage, pilot, "down", "down")
            before = stage.screen.setting.counts
            await pilot.press("t")
            await wait_until(pilot, lambda: stage.player.starts == 1)
            zero, start = stage.clock.now, stage.screen._listening._start
            assert start < stage.screen.setting.time
            for time in taps:
                stage.clock.now = zero + time - start
                await pilot.press("j")
            await pilot.press("enter")
            await wait_until(pilot, lambda: "tapped anew" in stage.shown)
            beats = stage.screen.setting.counts.beats
            near = beats[(beats > meant[0] - 0.2) & (beats < meant[-1] + 0.2)]
            assert near.size == meant.size
            assert np.median(np.abs(near - meant)) < 0.01
            await pilot.press("u")
            np.testing.assert_array_equal(stage.screen.setting.counts.beats, before.beats)
            await pilot.press("t")
            await wait_until(pilot, lambda: stage.player.starts == 2)
            await pilot.press("j", "j", "escape")
            assert "Nothing was tapped." in stage.shown

    in_a_loop(tap())


def test_tapping_a_doubtful_stretch_along_ends_with_it_and_settles_it(opened: OpenRoutine) -> None:
    meant = invented_music().beats[20:32]
    stretch = Doubt(float(meant[0]), Reason(Why.HARD_TO_HEAR), float(meant[-1]))

    async def tap() -> None:
        stage = Stage(opened)
        async with stage.app.run_test(size=(80, 24)) as pilot:
            stage.screen.setting = replace(stage.screen.setting, doubts=(stretch,))
            await press(stage, pilot, "n", "t")
            await wait_until(pilot, lambda: stage.player.starts == 1)
            zero, start = stage.clock.now, stage.screen._listening._start
            for time in meant:
                stage.clock.now = zero + time - start
                await pilot.press("j")
            stage.clock.now = zero + meant[-1] + 1 - start
            await wait_until(pilot, lambda: "tapped anew" in stage.shown)
            assert stage.screen.setting.open_doubts == ()

    in_a_loop(tap())


def test_drills_tosses_remarks_and_steps_are_laid_and_taken_off(opened: OpenRoutine) -> None:
    async def lay() -> None:
        stage = Stage(opened)
        async with stage.app.run_test(size=(100, 30)) as pilot:
            await press(stage, pilot, "down", "+", *"clubs_mills", "space", "2", "enter")
            assert "Clubs: forward mills" in stage.shown
            await pilot.press("right", "!", *"toss", "space", *"right", "enter", '"', *"up", "enter")
            assert "▲ toss right" in stage.shown and "“up”" in stage.shown
            await pilot.press("m", "down", "g", "F", "k", *"group", "enter", "=", *"Ball", "enter")
            routine = stage.screen.setting.routine
            assert (len(routine.laid), len(routine.moments), len(routine.steps)) == (1, 1, 1)
            assert (routine.title, routine.kind) == ("Ball", "group")
            assert routine.last == place_of(stage.screen.setting)
            await pilot.press("+", *"clubs_mils", "enter")
            assert "did you mean clubs_mills" in stage.shown.lower()
            await pilot.press("escape", "up", "-", "-", "-")
            routine = stage.screen.setting.routine
            assert (routine.laid, routine.moments, routine.steps) == ((), (), ())

    in_a_loop(lay())


def test_the_mouse_goes_to_a_count_and_presses_a_key_of_the_foot(opened: OpenRoutine) -> None:
    async def click() -> None:
        stage = Stage(opened)
        async with stage.app.run_test(size=(80, 24)) as pilot:
            await press(stage, pilot, "down")
            rows = stage.rows
            line = next(k for k, row in enumerate(rows) if row.lstrip().startswith("3 "))
            await pilot.click(offset=(rows[line].index("│5") + 1, line))
            where = place_of(stage.screen.setting)
            assert (where.eight, where.count) == (3, 5)
            foot = next(k for k, row in enumerate(rows) if "x drop" in row)
            number = stage.screen.setting.counts.beats.size
            await pilot.click(offset=(rows[foot].index("x drop") + 1, foot))
            assert stage.screen.setting.counts.beats.size == number - 1

    in_a_loop(click())


def test_leaving_without_saving_asks_once(opened: OpenRoutine) -> None:
    async def leave() -> None:
        stage = Stage(opened)
        async with stage.app.run_test(size=(80, 24)) as pilot:
            await press(stage, pilot, "right", "a", "ctrl+q")
            assert "Not saved yet" in stage.shown
            await pilot.press("right", "ctrl+q")
            assert "Not saved yet" in stage.shown
            await pilot.press("ctrl+q")
        assert stage.app.return_code == 0

    in_a_loop(leave())
    assert not opened.path.exists()


def test_what_cannot_be_done_is_said_and_changes_nothing(opened: OpenRoutine) -> None:
    async def refuse() -> None:
        stage = Stage(opened)
        async with stage.app.run_test(size=(80, 24)) as pilot:
            await press(stage, pilot, "right", "p")
            assert "no room for a pause" in stage.shown
            await pilot.press("g")
            assert "Dance steps go from a mark" in stage.shown
            assert stage.screen.setting.routine == opened.routine

    in_a_loop(refuse())


def test_no_key_does_two_things_and_every_one_is_explained() -> None:
    names = [name for _, keys in GROUPS for key in keys for name in key.keys]
    assert len(set(names)) == len(names)
    assert all(key.help and key.shown for _, keys in GROUPS for key in keys)
    assert all(find_key(name) for name in names)


def test_the_least_screen_names_every_key_of_the_foot(opened: OpenRoutine) -> None:
    async def look() -> None:
        stage = Stage(opened)
        async with stage.app.run_test(size=(80, 24)) as pilot:
            await ready(stage, pilot)
            foot = "  ".join(stage.rows[-2:])
            assert all(f"{key.shown} {key.short}" in foot for _, keys in GROUPS for key in keys if key.short)
            assert "F1 help" in foot

    in_a_loop(look())


def test_a_sentence_that_is_longer_than_a_line_is_there_whole(opened: OpenRoutine) -> None:
    sentence = "Something came of the last step that takes more than a line of eighty columns to say, and it is said."

    async def look() -> None:
        stage = Stage(opened)
        async with stage.app.run_test(size=(80, 24)) as pilot:
            await ready(stage, pilot)
            stage.screen.setting = replace(stage.screen.setting, news=Reason(Why.SAVED_IN, (sentence,)), failed=True)
            stage.screen.draw()
            await pilot.pause()
            assert sentence in " ".join(stage.shown.split())
            assert len(stage.rows) == 24

    in_a_loop(look())


def test_what_a_prompt_offers_is_what_enter_takes_and_nothing_is_saved_meanwhile(opened: OpenRoutine) -> None:
    async def ask() -> None:
        stage = Stage(opened)
        async with stage.app.run_test(size=(100, 30)) as pilot:
            before = stage.screen.setting.routine
            other = "group" if before.kind == "alone" else "alone"
            await press(stage, pilot, "k", "enter")
            assert stage.screen.setting.routine.kind == other
            await press(stage, pilot, "=", "enter")
            assert stage.screen.setting.routine.title == before.title
            await press(stage, pilot, "k", "ctrl+s")
            assert "nothing is saved" in stage.shown.lower() and stage.screen.setting.unsaved
            await press(stage, pilot, "escape", "ctrl+s")
            assert not stage.screen.setting.unsaved

    in_a_loop(ask())


def test_while_tapping_along_the_screen_says_so_in_large_with_the_keys_that_work(opened: OpenRoutine) -> None:
    async def tap() -> None:
        stage = Stage(opened)
        async with stage.app.run_test(size=(80, 24)) as pilot:
            await press(stage, pilot, "t")
            await pilot.pause()
            assert "▀" in stage.rows[3] and "Any key on each count" in stage.shown
            foot = stage.rows[-1]
            assert "end" in foot and "drop" in foot and "save" not in foot
            await press(stage, pilot, "escape")
            assert "Any key on each count" not in stage.shown and "Nothing was tapped" in stage.shown

    in_a_loop(tap())


def test_the_music_is_cut_its_joint_heard_and_written_from_the_sheet(tmp_path: Path) -> None:
    music = write_music(tmp_path)
    with open_invented(tmp_path, music) as opened:
        stage = Stage(opened)

        async def go() -> None:
            async with stage.app.run_test(size=(80, 24)) as pilot:
                await press(stage, pilot, "j")
                assert "K cuts: keep which eights" in stage.shown
                await press(stage, pilot, "K")
                assert "Ctrl+S first" in stage.shown
                await press(stage, pilot, "ctrl+s", "K", *"1-2 4-5", "enter")
                await wait_until(pilot, lambda: "Cut to 0:" in stage.shown)
                assert "too short" in stage.shown  # held against the rule of length
                length = stage.player.starts
                await press(stage, pilot, "j")
                assert "Joint 1 of 1" in stage.shown and stage.player.starts == length + 1
                assert len(stage.player.samples) <= 8 * opened.heard.sound.rate_hz + 1
                await press(stage, pilot, "W", "enter")
                await wait_until(pilot, lambda: "Written: my_routine_cut.wav" in stage.shown)
                await press(stage, pilot, "W", "enter")
                await wait_until(
                    pilot, lambda: "! My_routine_cut.toml" in stage.shown or "my_routine_cut.toml: " in stage.shown
                )
                await press(stage, pilot, "l", "j")
                assert "othing is cut as the counts are now" in stage.shown
                await press(stage, pilot, "M")
                await wait_until(pilot, lambda: "map of the music" in stage.shown)
                assert "loudness" in stage.shown

        in_a_loop(go())
        assert coach.was_cut(tmp_path / "my_routine_cut.toml")

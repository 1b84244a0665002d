"""Every screen at every size of a terminal: whole where there is room, one sentence where there is none, no fault."""

from __future__ import annotations

import pkgutil
import re
from contextlib import ExitStack
from dataclasses import replace
from datetime import date
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from tempo_coach import coach, ui
from tempo_coach.coach import archiving
from tempo_coach.coach.practising.conductor import Conductor
from tempo_coach.coach.practising.form import make_form
from tempo_coach.coach.practising.group_conductor import GroupConductor
from tempo_coach.coach.practising.practice import FinishedTake
from tempo_coach.coach.todays_practice import open_today
from tempo_coach.errors import CoachError
from tempo_coach.languages import ENGLISH, speak, speaking, tr
from tempo_coach.languages.catalogue import FOLDER, TEXT, read_language, read_text
from tempo_coach.live.notices import Code, Notice
from tempo_coach.live.practice.session import Stage, Way
from tempo_coach.music.files.loudness import find_levels
from tempo_coach.observe.take.take_file import make_take
from tempo_coach.pattern.drill.drill_file import list_drills
from tempo_coach.reasons import Reason, Why
from tempo_coach.ui.app import AloneApp
from tempo_coach.ui.counts.map_screen import MapScreen
from tempo_coach.ui.counts.screen import CountsScreen
from tempo_coach.ui.form import FormScreen
from tempo_coach.ui.group import VIEWS, GroupScreen
from tempo_coach.ui.group_setup import GroupSetupScreen
from tempo_coach.ui.help import HELPS, HelpScreen
from tempo_coach.ui.history.kept import KeptScreen
from tempo_coach.ui.history.rows import draw_progress, draw_told
from tempo_coach.ui.history.screen import HistoryScreen
from tempo_coach.ui.palette import PLAIN
from tempo_coach.ui.practice.after import LookScreen
from tempo_coach.ui.practice.afterwards import AfterwardsScreen, ReadingScreen
from tempo_coach.ui.practice.elsewhere import ElsewhereScreen
from tempo_coach.ui.practice.filmed import FilmedScreen
from tempo_coach.ui.practice.joining import JoiningScreen
from tempo_coach.ui.practice.live_group import LiveGroupScreen
from tempo_coach.ui.practice.moving_screen import MovingScreen
from tempo_coach.ui.practice.new_drill import NewDrillScreen
from tempo_coach.ui.practice.person_screen import PersonScreen
from tempo_coach.ui.practice.practise import PractiseScreen
from tempo_coach.ui.practice.sensor_table import SensorTableScreen
from tempo_coach.ui.practice.setup import SetupScreen
from tempo_coach.ui.practice.setup_below import draw_below
from tempo_coach.ui.practice.today_screen import ItemScreen, TodayScreen
from tempo_coach.ui.practice.todays_group_screen import TodaysGroupScreen
from tempo_coach.ui.row_widgets import Card, draw_foot
from tempo_coach.ui.screen import CardScreen
from tempo_coach.ui.text_rows import draw_too_small, fits, say_least
from tests.coach.practising.test_conductor import at_once
from tests.languages.pseudo import english_in, pseudo
from tests.ui import fakes
from tests.ui.counts.test_screen import open_invented, write_music
from tests.ui.fakes import Clock, FakePlayer, in_a_loop, wait_until
from tests.ui.fakes import rows as rows_of
from tests.ui.history.test_screen import open_season
from tests.ui.practice.test_joining import FakePhones
from tests.ui.test_group import judge_five
from tests.ui.test_screens import DRILLS, open_app, play, shown, start

if TYPE_CHECKING:
    from collections.abc import Iterator

    from textual.binding import Binding

    from tempo_coach.languages import Language

LONG = "The sound went away: device unplugged or server ended. The take is paused and kept. " * 3
DAY = date(2031, 5, 20)
#: Sizes that a terminal can have: from the least there is to a wall's.
WIDTHS, HEIGHTS = st.integers(1, 300), st.integers(1, 120)
SMALL = ((1, 80), (3, 10), (24, 1), (1, 1), (39, 24), (80, 9), (40, 10))


def practising(
    stage_wanted: Stage,
    folder: Path,
    *,
    drill: str = "clubs_mills",
    kind: type[PractiseScreen] = PractiseScreen,
) -> PractiseScreen:
    """A practice that has come to a stage, its take in memory alone."""
    plan = fakes.lay(drill, cycles=8)
    options = {} if stage_wanted is Stage.ASKING else {"keys": "jf"[: len(plan.hands)]}
    way = Way(ready=10.0, takes=3, rest=20.0)
    folder = folder / f"{kind.__name__}_{drill}_{stage_wanted.name}"
    folder.mkdir()
    blocked = folder / "no folder"
    blocked.write_text("")
    stage = fakes.Stage(plan, folder=blocked, options={**options, "way": way, "caution": LONG})
    screen = kind(stage.context, clock=stage.clock)
    aside = (lambda *_: None) if stage_wanted is Stage.OPENING else at_once
    screen.conductor = conductor = Conductor(stage.context, aside=aside, clock=stage.clock)
    if stage_wanted in (Stage.ASKING, Stage.WAITING):
        return screen
    conductor.enter(stage.clock.now)
    if stage_wanted is Stage.WALKING:
        return screen
    stage.clock.now += 11
    conductor.tick()
    if stage_wanted is Stage.OPENING:
        return screen
    zero = stage.clock.now
    conductor.tick()
    for time, hand in zip(plan.moments.time[:20], plan.moments.hand[:20], strict=True):
        stage.clock.now = zero + float(time) + 0.05
        conductor.press(dict(conductor.session.keys)[hand], stage.clock.now)
        conductor.tick()
    if stage_wanted is Stage.PAUSED:
        stage.player.break_off(Notice(Code.NOT_CALIBRATED, (CoachError("history.file_stays", reason=LONG),)))
        conductor.tick()
    elif stage_wanted in (Stage.RESTING, Stage.AFTER, Stage.JUDGING):
        conductor._aside = (lambda *_: None) if stage_wanted is Stage.JUDGING else at_once
        conductor.enter(stage.clock.now)
        if stage_wanted is Stage.AFTER:
            conductor.enter(stage.clock.now)
    assert conductor.session.stage is stage_wanted
    return screen


STAGES = (*(each for each in Stage if each is not Stage.LEFT),)


@pytest.fixture(scope="module")
def screens(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, CardScreen]]:
    """Every screen of the program, in all its states, by a name."""
    folder = tmp_path_factory.mktemp("screens")
    made: dict[str, CardScreen] = {f"practise {each.name.lower()}": practising(each, folder) for each in STAGES}
    made |= {f"rope {each.name.lower()}": practising(each, folder, drill="rope_figure_eight") for each in STAGES}
    plan = fakes.lay("clubs_mills", cycles=40)
    take = make_take(plan, zip(plan.moments.time.tolist(), plan.moments.hand, strict=True), observed_by="tap")
    done = FinishedTake(take, coach.judge_take(take), None, told=(Reason(Why.RECORDING_UNWRITTEN, (LONG,)),))
    with ExitStack() as stack:
        history = stack.enter_context(open_season(folder))
        opened = stack.enter_context(open_invented(folder, write_music(folder)))
        made["set up"] = setup = SetupScreen(make_form(DRILLS), folder=folder)
        setup.sentence = LONG
        levels = find_levels(opened.heard.sound)
        made["counts"] = CountsScreen(opened, levels, saved=False, make_player=lambda: FakePlayer(Clock()))
        made["map"] = MapScreen(LONG, ["  eight", *(f"  {k}  {LONG}" for k in range(60))])
        for view in range(len(VIEWS)):
            group = GroupScreen(judge_five())
            group._view = view
            made[f"group {view}"] = group
        made["history"] = listed = HistoryScreen(history, folder=folder)
        listed.sentence = LONG
        kept = (history.take(1), history.take(2))
        for together in (False, True):
            for judged in (False, True):
                screen = KeptScreen(kept, together=together)
                screen._cards = [archiving.judge_kept(each) for each in kept] if judged else []
                made[f"kept {together} {judged}"] = screen
        look = LookScreen(take, folder / "a.take.jsonl")
        made["look"], look._done = look, done
        made["look, judging one"] = LookScreen(take, folder / "a.take.jsonl")
        made["new drill"] = NewDrillScreen(folder)
        made["a person"] = person = PersonScreen(history.path, "A" * 40, ("A" * 40, "Ada"))
        person.sentence = LONG
        for share in (None, 0.5):
            filmed, sensed = FilmedScreen(done), SensorTableScreen(done)
            made[f"film {share}"], filmed.sentence, filmed._share = filmed, LONG, share
            made[f"table {share}"], sensed.sentence, sensed._share = sensed, LONG, share
            sensed._ranges = {LONG: (-1e9, 1e-9), "x": (0.0, 1.0)} if share is None else {}
            made[f"group of {share}"] = asked = GroupSetupScreen()
            asked.sentence, asked._share, asked._news = LONG, share, LONG
        conductor = made["practise after"].conductor
        assert isinstance(conductor, Conductor) and conductor.takes.homeless
        made["elsewhere"] = ElsewhereScreen(conductor)
        made |= {f"item {each.name.lower()}": practising(each, folder, kind=ItemScreen) for each in STAGES}
        for name, names in (("one", ("Ada",)), ("two", ("Ada", "Bea"))):
            made[f"today of {name}"] = today = TodayScreen(open_today(folder / "none.sqlite", names[0], day=DAY), names)
            today.sentence = LONG if name == "two" else ""
            long = replace(today.today, person=replace(today.today.person, name="Zo" * 30))
            made[f"lists of {name}"] = TodaysGroupScreen((today.today, *[long] * (11 if name == "two" else 0)))
        for name, phones in {"asked": FakePhones(), "alone": FakePhones(), "failed": FakePhones()}.items():
            made[f"phones {name}"] = JoiningScreen(phones, hands=("right", "left"), names=["Ada", LONG])
            phones.phones = phones.phones if name == "asked" else {}
            phones.trouble = (
                Notice(Code.NOT_CALIBRATED, (CoachError("toss.on", on=LONG),)) if name == "failed" else None
            )
        stage = fakes.Stage(fakes.lay("clubs_mills", cycles=8), options={"caution": LONG})
        made["live group"] = live = LiveGroupScreen(stage.context, ("Ada", "Bea", LONG), clock=stage.clock)
        live.conductor = GroupConductor(stage.context, ("Ada", "Bea", LONG), aside=at_once, clock=stage.clock)
        for name, told in HELPS.items():
            made[f"help {name}"] = HelpScreen(told)
        yield made


def test_no_screen_was_left_out(screens: dict[str, CardScreen]) -> None:
    modules = pkgutil.walk_packages(ui.__path__, "tempo_coach.ui.")
    found = (vars(import_module(each.name)).values() for each in modules)
    classes = {each for module in found for each in module if isinstance(each, type) and issubclass(each, CardScreen)}
    bases = {CardScreen, FormScreen, ReadingScreen, AfterwardsScreen, MovingScreen}
    assert classes - bases == {type(screen) for screen in screens.values()}


#: Screens that are drawn by widgets: these are looked at as a whole.
OF_WIDGETS = (SetupScreen, HistoryScreen, HelpScreen)


@settings(max_examples=12)
@given(WIDTHS, HEIGHTS)
@example(40, 10)
@example(80, 10)
@example(40, 24)
def test_every_card_fills_every_size_that_it_is_drawn_at(
    screens: dict[str, CardScreen], width: int, height: int
) -> None:
    if not fits(width, height):
        width, height = width + 39, height + 9
    for name, screen in screens.items():
        for first_row in (0, 7) if not isinstance(screen, OF_WIDGETS) else ():
            screen._first_row = first_row
            rows = screen.draw_page(width, height).rows
            if "judging one" in name or name.endswith(("False False", "True False")):
                assert len(rows) == 1  # the card is on its way
                continue
            assert len(rows) == height, name
            assert {row.cell_len for row in rows} == {width}, name


#: What stands on the screens as it was given: sentences of these tests, names, keys, places of files.
GIVEN = {word.strip(".,:").lower() for word in LONG.split()} | {
    *("ada", "bea", "cyl", "dora", "eva", "ctrl", "tab", "enter", "circle", "routine", "sound", "wen"),
    *("fake", "https", "eight"),
}
_FILES = re.compile(r"\S*/\S*|\S+\.jsonl|my drill")  # and the title that a new drill has until it is given one


def test_every_word_of_every_card_has_gone_through_the_catalogue(screens: dict[str, CardScreen]) -> None:
    with speaking(pseudo()):
        left = {
            (name, word)
            for name, screen in screens.items()
            if not isinstance(screen, OF_WIDGETS)
            for row in screen.draw_page(100, 30).rows
            for word in english_in(_FILES.sub("", row.plain), GIVEN)
        }
    assert not left


def test_every_word_of_every_widget_has_gone_through_the_catalogue(tmp_path: Path) -> None:
    seen: dict[str, list[str]] = {}

    async def look(name: str, screen: CardScreen) -> None:
        app = AloneApp(screen)
        async with app.run_test(size=(100, 50)) as pilot:
            await wait_until(pilot, lambda: app.screen is screen and bool(screen.query(Card)))
            seen[name] = rows_of(app)
            for help_name, told in HELPS.items() if name == "set up" else ():
                await app.push_screen(help_screen := HelpScreen(told))
                await wait_until(pilot, lambda: app.screen is help_screen and bool(rows_of(app)[0].strip()))
                seen[f"help {help_name}"] = rows_of(app)
                await app.pop_screen()

    speak(pseudo())
    try:
        for name in ("set up", "history"):
            for screen in made_anew(name, tmp_path):
                in_a_loop(look(name, screen))
    finally:
        speak(ENGLISH)
    assert len(seen) == len(HELPS) + 2 and all(any(map(str.strip, rows[:5])) for rows in seen.values())
    assert not {(name, word) for name in seen for row in seen[name] for word in english_in(_FILES.sub("", row), GIVEN)}


def test_what_the_foots_call_their_keys_is_in_the_catalogues(screens: dict[str, CardScreen]) -> None:
    """A foot looks up whatever it shows; here it is seen that there is something to be found."""
    known = read_text(Path(FOLDER, "de", TEXT).read_text(encoding="utf-8"))
    shown = {each.description for screen in screens.values() for each in screen.BINDINGS if each.show}  # type: ignore[union-attr]
    assert len(shown) > 40
    assert shown <= set(known)


@cache
def _titles() -> list[str]:
    return [coach.load_drill(path.stem).title for path in list_drills()]


@pytest.mark.parametrize(
    "language",
    [pseudo(longer=1 / 3), *map(read_language, ("de", "it", "es", "fr"))],
    ids=["longer", "German", "Italian", "Spanish", "French"],
)
def test_every_card_bears_other_words(screens: dict[str, CardScreen], language: Language) -> None:
    """Other words fill the least size as English ones do; in real languages titles and names alone are ever cut."""
    with speaking(language):
        given = " ".join([LONG, "E" * 30, "Zo" * 30, *(f"{tr(title)} 100," for title in _titles())])
        for name, screen in screens.items():
            if isinstance(screen, OF_WIDGETS):
                continue
            rows = screen.draw_page(80, 24).rows
            if "judging one" not in name and not name.endswith(("False False", "True False")):
                assert len(rows) == 24, name
                assert {row.cell_len for row in rows} == {80}, name
            if language.code == "pseudo":
                continue
            for row in rows:
                for cut in re.findall(r"(\w[\w .,:'’-]{2,4}\w)…", row.plain):
                    assert cut.strip() in given, (name, row.plain)


async def look_at(screen: CardScreen, sizes: list[tuple[int, int]]) -> None:
    app = AloneApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: app.screen is screen and bool(app.screen.query(Card)))
        for width, height in [*sizes, (80, 24)]:
            await pilot.resize_terminal(width, height)
            await wait_until(pilot, lambda size=(width, height): tuple(screen.size) == size)
            await pilot.pause()
            drawn = rows_of(app)
            assert len(drawn) == height and {cell_len(row) for row in drawn} == {width}
            if not fits(width, height):
                said = "".join(drawn).replace(" ", "")
                assert say_least().replace(" ", "").startswith(said), "nothing but what is needed"
            elif width >= 80 and height >= 24:
                assert "Ctrl+Q leave" in " ".join(drawn[-3:])


@pytest.mark.parametrize(
    "name", ["set up", "history", "counts", "new drill", "a person", "film None", "elsewhere", "group 0"]
)
@settings(max_examples=1)
@given(sizes=st.lists(st.tuples(WIDTHS, HEIGHTS), min_size=3, max_size=3))
@example(sizes=[(40, 10), (80, 10), (40, 24), (39, 24), (1, 1), (100, 30), (300, 120)])
def test_whole_screens_fill_every_size(
    name: str, sizes: list[tuple[int, int]], tmp_path_factory: pytest.TempPathFactory
) -> None:
    for screen in made_anew(name, tmp_path_factory.mktemp("sizes")):
        in_a_loop(look_at(screen, sizes))


def made_anew(name: str, folder: Path) -> Iterator[CardScreen]:
    """A screen that has not been shown yet."""
    plan = fakes.lay("clubs_mills", cycles=40)
    take = make_take(plan, zip(plan.moments.time.tolist(), plan.moments.hand, strict=True), observed_by="tap")
    match name:
        case "set up":
            yield SetupScreen(make_form(DRILLS), folder=folder)
        case "history":
            with open_season(folder) as history:
                yield HistoryScreen(history, folder=folder)
        case "counts":
            with open_invented(folder, write_music(folder)) as opened:
                levels = find_levels(opened.heard.sound)
                yield CountsScreen(opened, levels, saved=False, make_player=lambda: FakePlayer(Clock()))
        case "new drill":
            yield NewDrillScreen(folder)
        case "a person":
            yield PersonScreen(folder / "history.sqlite", "Ada")
        case "table None":
            yield SensorTableScreen(
                FinishedTake(take, coach.judge_take(take), None, told=(Reason(Why.RECORDING_UNWRITTEN, (LONG,)),))
            )
        case "film None":
            yield FilmedScreen(
                FinishedTake(take, coach.judge_take(take), None, told=(Reason(Why.RECORDING_UNWRITTEN, (LONG,)),))
            )
        case "elsewhere":
            conductor = practising(Stage.AFTER, folder).conductor
            assert conductor is not None
            yield ElsewhereScreen(conductor)
        case _:
            yield GroupScreen(judge_five())


@given(WIDTHS, HEIGHTS)
@example(80, 1)
def test_what_screens_of_widgets_draw_fills_every_size(width: int, height: int) -> None:
    drill = coach.load_drill("clubs_mills")
    form_rows, below = draw_below(
        drill, sentence=LONG, calm=False, lines=17, width=width + 39, height=height + 5, palette=PLAIN
    )
    assert form_rows >= 1 and form_rows + len(below) >= height + 5
    for drawn in (below, draw_told(LONG, width=width + 39, palette=PLAIN)):
        assert {row.cell_len for row in drawn} == {width + 39}
    empty = draw_progress(None, None, width=width, height=height, palette=PLAIN)
    assert len(empty) == height and {row.cell_len for row in empty} == {width}


@given(st.lists(st.sampled_from([*PractiseScreen.BINDINGS, *CountsScreen.BINDINGS])), st.text(), WIDTHS)
def test_a_foot_has_all_its_keys_in_as_many_rows_as_they_need(bindings: list[Binding], note: str, width: int) -> None:
    drawn = draw_foot(bindings, note, width=width, palette=PLAIN)
    assert {row.cell_len for row in drawn} == {width}
    said = " ".join(" ".join(row.plain for row in drawn).split())
    if width >= 80:
        assert all(" ".join(binding.description.split()) in said for binding in bindings)


def test_what_is_found_once_a_screen_has_gone_is_not_drawn(screens: dict[str, CardScreen]) -> None:
    for screen in screens.values():
        screen.draw()


@given(WIDTHS, HEIGHTS)
@example(1, 80)
@example(3, 10)
@example(24, 1)
def test_where_there_is_no_room_only_the_sentence_stands_there(width: int, height: int) -> None:
    rows = draw_too_small(width, height, PLAIN)
    assert len(rows) == height and {row.cell_len for row in rows} == {width}
    said = "".join(row.plain for row in rows).replace(" ", "")
    assert say_least().replace(" ", "").startswith(said)
    assert said or not width


def test_a_take_goes_on_in_a_terminal_that_was_made_too_small_and_its_card_comes_back(tmp_path: Path) -> None:
    async def run() -> None:
        stage = fakes.Stage(
            fakes.lay("clubs_mills", tempo_bpm=120, cycles=8), folder=tmp_path, options={"keys": "jf", "at_once": True}
        )
        app = open_app(stage)
        async with app.run_test(size=(80, 24)) as pilot:
            await start(app, pilot)
            for width, height in SMALL:
                await pilot.resize_terminal(width, height)
                await wait_until(pilot, lambda height=height: len(rows_of(app)) == height)
                await pilot.click(offset=(0, 0))
                assert ("next in" in shown(app)) is fits(width, height)
            await play(app, pilot, stage)
            await pilot.resize_terminal(80, 24)
            await wait_until(pilot, lambda: "kept in" in shown(app))
            assert len(app.screen.conductor.takes.done[0].card.missed) == 0
            for width, height in SMALL:
                await pilot.resize_terminal(width, height)
                await wait_until(pilot, lambda height=height: len(rows_of(app)) == height)
                await pilot.click(offset=(0, 0))
            await pilot.resize_terminal(80, 24)
            await wait_until(pilot, lambda: "kept in" in shown(app))

    in_a_loop(run())

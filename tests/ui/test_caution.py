"""What she has to mind: it stands whole on every screen before a take, whatever else has to be said there."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from tempo_coach import coach
from tempo_coach.coach.practising.conductor import Conductor
from tempo_coach.coach.practising.form import make_form
from tempo_coach.live.practice.session import Stage, Way
from tempo_coach.pattern.drill.drill_file import LONGEST_CAUTION, list_drills
from tempo_coach.ui.palette import PLAIN
from tempo_coach.ui.practice.practice_card import draw_practice_card
from tempo_coach.ui.practice.setup_below import draw_below
from tests.refused import refused
from tests.ui import fakes
from tests.ui.fakes import lay

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from rich.text import Text

SIZES = ((80, 24), (100, 30))
NAMES = [path.stem for path in list_drills()]
NOTICE = (
    "A take was broken off (and 12 more). F2: its scorecard, F3: put it by. "
    "It is 2031-05-04_181502_12345_rope_figure_eight_observed_1.take.jsonl."
)


def read_out(rows: list[Text]) -> str:
    """The words of a screen, without the numbers and letters of blocks that stand beside them."""
    return " ".join(re.sub("[▀-█]", " ", " ".join(row.plain for row in rows)).split())


def at_once(work: Callable[[], object], then: Callable[[object], None]) -> None:
    then(work())


@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize("sentence", ["", NOTICE])
def test_the_set_up_shows_it_whole(width: int, height: int, sentence: str) -> None:
    form = make_form(NAMES)
    for name in NAMES:
        drill = coach.load_drill(name)
        own = form.put(replace(form.line("drill"), value=name)).for_drill(drill)
        lines = len(own.lines)
        for room in (height - 2, height - 3):
            form_rows, rows = draw_below(
                drill, sentence=sentence, calm=False, lines=lines, width=width, height=room, palette=PLAIN
            )
            assert form_rows + len(rows) == room and all(row.cell_len == width for row in rows)
            told = read_out(rows)
            assert f"Mind: {drill.caution}." in told and sentence in told, name
            assert form_rows >= min(lines, 14), name


def stages(name: str, caution: str) -> list[Conductor]:
    """A practice in each stage before its first take, and before the one after a take that she ended at once."""
    stage = fakes.Stage(lay(name), options={"caution": caution, "way": Way(ready=5)})
    seen = []
    for pressed in (0, 1):
        conductor = Conductor(stage.context, aside=at_once, clock=stage.clock)
        for _ in range(pressed):
            conductor.enter(stage.clock.now)
        seen.append(conductor)
    conductor = Conductor(stage.context, aside=at_once, clock=stage.clock)
    for _ in range(4):
        conductor.enter(stage.clock.now)
        stage.clock.now += 2.0
        conductor.tick()
    seen.append(conductor)
    return seen


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_the_practice_shows_it_whole_before_each_take(width: int, height: int) -> None:
    for name in NAMES:
        caution = coach.load_drill(name).caution
        first, walking, again = stages(name, caution)
        assert (first.session.stage, walking.session.stage) == (Stage.ASKING, Stage.WALKING)
        assert again.session.stage is Stage.WALKING and again.session.number == 2 and again.picture().sound
        for conductor in (first, walking, again):
            rows = draw_practice_card(
                conductor.picture(), conductor.movement, width=width, height=height, palette=PLAIN
            )
            assert len(rows) == height and all(row.cell_len == width for row in rows)
            assert f"Mind: {caution}." in read_out(rows), name


def test_the_longest_caution_of_a_drill_of_her_own_is_shown_whole(tmp_path: Path) -> None:
    words = ("look up and keep clear of the windows and of everybody else; " * 6)[:LONGEST_CAUTION].strip(" ;")
    for conductor in stages("clubs_mills", words):
        rows = draw_practice_card(conductor.picture(), conductor.movement, width=80, height=24, palette=PLAIN)
        assert f"Mind: {words}." in read_out(rows)
    text = (next(path for path in list_drills() if path.stem == "clubs_mills")).read_text(encoding="utf-8")
    own = tmp_path / "own.toml"
    own.write_text(text.replace("clear space and a coach", "mind " * LONGEST_CAUTION), encoding="utf-8")
    with refused("caution"):
        coach.load_drill(str(own))

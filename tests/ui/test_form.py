"""Forms as widgets: what is shown of a line, typed words with a cursor, and what is usual."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from rich.text import Text
from textual.events import Paste

from tempo_coach.coach.person_form import list_voices, make_person_form
from tempo_coach.coach.practising.form import Form, make_form
from tempo_coach.coach.practising.form_line import Line, say_line
from tempo_coach.history.roster import Person
from tempo_coach.ui.app import AloneApp
from tempo_coach.ui.form import CHANGE_KEYS, CHOOSE_KEYS, LABEL, FormScreen, Typed, draw_field, draw_label
from tempo_coach.ui.group_setup import make_group_form
from tempo_coach.ui.palette import DARK, PLAIN, Palette
from tempo_coach.ui.practice.filmed import make_film_form
from tempo_coach.ui.practice.new_drill import make_new_form
from tempo_coach.ui.screen import LEAVE, Page
from tests.ui.fakes import in_a_loop, lay, rows, wait_until

if TYPE_CHECKING:
    from typing import ClassVar

    from textual.binding import BindingType

DRILLS = ("ball_bounces", "clubs_mills", "rope_figure_eight", "rope_skips_single")
FORMS = {
    "set up": make_form(DRILLS),
    "film of one hand": make_film_form(lay("rope_figure_eight")),
    "film of two hands": make_film_form(lay("clubs_mills")),
    "new drill": make_new_form(),
    "a person": make_person_form(Person("Ada"), {"clubs_mills": "Clubs: mills"}, voices=list_voices()),
    "a group": make_group_form(),
}


@pytest.mark.parametrize("form", FORMS.values(), ids=list(FORMS))
def test_nothing_that_a_form_says_by_itself_is_cut_off(form: Form) -> None:
    for line in form.lines:
        assert len(line.label) < LABEL - 5
        for choice in (line.value, *line.choices):
            drawn = draw_field(replace(line, value=choice), PLAIN, chosen=True)
            assert drawn.cell_len <= 80 and say_line(replace(line, value=choice)) in drawn.plain


@pytest.mark.parametrize("palette", [PLAIN, Palette(), DARK], ids=["no colour", "light", "dark"])
def test_the_chosen_line_is_told_by_a_sign_as_well_as_by_its_ground(palette: Palette) -> None:
    line = make_form(DRILLS).line("counts")
    chosen, other = (draw_field(line, palette, chosen=each) for each in (True, False))
    assert "▸" in chosen.plain[:6] and "▸" not in other.plain
    assert chosen.plain.index("clicked") == other.plain.index("clicked"), "what a line shows does not jump"
    assert draw_label(line, palette, chosen=True).plain[5:] == draw_label(line, palette, chosen=False).plain[5:]


class Asking(FormScreen[None]):
    """Two lines that are typed, the second one with names to choose from."""

    BINDINGS: ClassVar[list[BindingType]] = [*CHOOSE_KEYS, *CHANGE_KEYS, LEAVE]

    def __init__(self) -> None:
        super().__init__(
            Form(
                (
                    Line("music", "music", kind="text", default="none"),
                    Line("athlete", "whose take", kind="text", default="me", choices=("", "Ada", "Zoë")),
                )
            )
        )

    def draw_head(self, width: int) -> Text:
        return Text(" asked".ljust(width))

    def draw_page(self, width: int, height: int) -> Page:
        return Page([Text(" " * width)] * height)


def test_what_is_typed_has_a_cursor_and_takes_in_what_is_pasted() -> None:
    """Arrows, Home, End and Delete in a line of text, as in every text field (common practice)."""

    async def run() -> None:
        screen = Asking()
        app = AloneApp(screen)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: "none" in "".join(rows(app)))
            await pilot.press(*"ab", "left", "x", "home", "y", "end", "z")
            assert screen.form.value("music") == "yaxbz"
            await pilot.press("home", "delete", "end", "backspace")
            assert screen.form.value("music") == "axb"
            assert screen.focused is not None
            screen.focused.post_message(Paste("/a folder\n"))
            await wait_until(pilot, lambda: screen.form.value("music") == "axb/a folder")

    in_a_loop(run())


def test_a_typed_line_that_has_choices_too_says_so_and_arrows_lead_through_them() -> None:
    async def run() -> None:
        screen = Asking()
        app = AloneApp(screen)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: "none" in "".join(rows(app)))
            assert not any("◂" in row for row in rows(app))
            await pilot.press("down")
            await wait_until(pilot, lambda: any("whose take" in row and "◂▸ me" in row for row in rows(app)))
            await pilot.press("right")
            assert screen.form.value("athlete") == "Ada"
            await pilot.press("left")
            assert screen.form.value("athlete") == ""
            row = next(y for y, each in enumerate(rows(app)) if "◂▸" in each)
            await pilot.click(offset=(rows(app)[row].index("◂"), row))
            await wait_until(pilot, lambda: screen.form.value("athlete") == "Zoë")
            await pilot.press("backspace", "left", "x")
            assert screen.form.value("athlete") == "Zxo", "in the midst of a word they go from letter to letter"

    in_a_loop(run())


def test_what_is_typed_while_the_form_is_drawn_again_is_not_lost() -> None:
    """Whoever types faster than a busy machine draws keeps every letter."""

    async def run() -> None:
        screen = Asking()
        app = AloneApp(screen)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: "none" in "".join(rows(app)))
            typed = screen.query(Typed).first()
            typed.value = "a"
            typed.value = "ab"
            screen.form = screen.form.put(replace(screen.form.line("athlete"), value="Ada"))  # it has no letter yet
            assert typed.value == "ab"
            await wait_until(pilot, lambda: screen.form.value("music") == "ab")
            await pilot.press("end", "c")
            await wait_until(pilot, lambda: screen.form.value("music") == "abc" == typed.value)

    in_a_loop(run())

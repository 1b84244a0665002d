"""Everything that is known of a person on one screen, looked at and changed."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, NamedTuple

from rich.text import Text
from textual.binding import Binding

from tempo_coach.coach.person_form import (
    change_person,
    list_voices,
    make_person_form,
    open_person,
    path_of,
    person_from_form,
    titles_of,
)
from tempo_coach.errors import CoachError
from tempo_coach.languages import tr
from tempo_coach.report.words.errors import say_error
from tempo_coach.report.words.todays_list import say_goal
from tempo_coach.signs import wrap
from tempo_coach.ui.form import CHANGE_KEYS, CHOOSE_KEYS, FormScreen, FormView
from tempo_coach.ui.screen import HELP, LEAVE, Page
from tempo_coach.ui.text_rows import bar, fill, warn

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from textual.binding import BindingType

    from tempo_coach.coach.person_form import Person
    from tempo_coach.coach.practising.form import Form


class Looked(NamedTuple):
    """Who was looked at last, and whether she was changed."""

    person: Person
    changed: bool


class PersonScreen(FormScreen["Looked"]):
    """The form of a person; Enter keeps what was changed, another key leads to the next person.

    Parameters
    ----------
    file : Path
        The history.
    name : str
    people : sequence of str
        Everybody there is.
    devices : sequence of str
        What can be heard through.

    Raises
    ------
    CoachError
        If her file cannot be read.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "keep", "keep", key_display="Enter", priority=True),
        *CHOOSE_KEYS,
        *CHANGE_KEYS,
        HELP,
        Binding("f5", "person", "who", key_display="F5"),
        Binding("escape", "back", "back", key_display="Escape"),
        LEAVE,
    ]
    help_name = "a person"

    def __init__(self, file: Path, name: str, people: Sequence[str] = (), *, devices: Sequence[str] = ()) -> None:
        self._file, self.people, self._devices = file, tuple(people), tuple(devices)
        self.person = open_person(file, name)
        self._voices = list_voices()
        self._changed = False
        super().__init__(self._form_of(self.person))

    def _form_of(self, person: Person) -> Form:
        self._titles = titles_of(person)
        return make_person_form(person, self._titles, voices=self._voices, devices=self._devices)

    def on_mount(self) -> None:
        """Begin with the first line that says how she practises."""
        self._begin()

    def _begin(self) -> None:
        self.query_one(FormView).choose("hand")
        self.draw()

    def draw_head(self, width: int) -> Text:
        """Return the title and her name."""
        return bar(tr(" tempo_coach   a person"), f"{self.person.name} ", width, self._palette)

    def draw_page(self, width: int, height: int) -> Page:
        """Return her goals and her file, and leave the form the rows for its lines."""
        said = warn(self.sentence, width, self._palette)
        room = height
        for view in self.query(FormView):
            room += view.size.height
            lines = max(min(len(self.form.lines) - len(self.form.idle), room - len(said)), 1)
            view.styles.height = lines
            room -= lines
        titles = self._titles
        about = [
            tr("Goal: {goal}.", goal=say_goal(goal, titles.get(goal.drill, goal.drill))) for goal in self.person.goals
        ]
        path = str(path_of(self._file, self.person.name))
        about.append(tr("All this stands in {path}, which you may write in as well.", path=path))
        rows = [Text(f"  {row}", self._palette.faint) for each in about for row in wrap(each, width - 4)]
        return Page(fill([*said, Text(), *rows], width, room, self._palette))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return whether an action is available."""
        return len(self.people) > 1 if action == "person" else super().check_action(action, parameters)

    def action_keep(self) -> None:
        """Keep her as the form has her."""
        if self._keep():
            self.dismiss(Looked(self.person, self._changed))

    def _keep(self) -> bool:
        """Keep what was changed, and return whether that could be."""
        try:
            changed = person_from_form(self.form, self.person)
            if changed != self.person:
                name = self.person.name
                self.person = change_person(self._file, name, changed)
                self.people = tuple(self.person.name if each == name else each for each in self.people)
                self._changed = True
        except CoachError as error:
            self.sentence = say_error(error)
            self.draw()
            return False
        return True

    def action_person(self) -> None:
        """Keep her, and go on to the next person."""
        if not self._keep():
            return
        here = self.people.index(self.person.name) if self.person.name in self.people else -1
        name = self.people[(here + 1) % len(self.people)]
        try:
            self.person = open_person(self._file, name)
        except CoachError as error:
            self.sentence = say_error(error)
            self.draw()
            return
        self._form = self._form_of(self.person)
        self.sentence = ""
        self.refresh(recompose=True)
        self.call_after_refresh(self._begin)

    def action_back(self) -> None:
        """Go back without keeping what was changed here."""
        self.dismiss(Looked(self.person, self._changed))

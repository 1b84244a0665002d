"""A new drill as it is typed, drawn at once, with its problems named at once."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.binding import Binding

from tempo_coach.coach.practising.form import Form
from tempo_coach.coach.practising.form_line import Line
from tempo_coach.errors import CoachError
from tempo_coach.languages import tr
from tempo_coach.pattern.drill.drill_file import APPARATUS, drill_from_table, list_drills
from tempo_coach.pattern.drill.template import read_circles, write_new_drill
from tempo_coach.pattern.drill.toml_tables import Problems, TomlTable, find_lines
from tempo_coach.report.drawings.drill import draw_drill
from tempo_coach.report.words.errors import say_error
from tempo_coach.ui.form import CHANGE_KEYS, CHOOSE_KEYS, FormScreen
from tempo_coach.ui.screen import HELP, LEAVE, Page
from tempo_coach.ui.text_rows import bar, fill, warn

if TYPE_CHECKING:
    from textual.binding import BindingType

    from tempo_coach.pattern.drill.drill import Drill
    from tempo_coach.ui.palette import Palette

HANDS = ("right", "left", "right, left", "left, right")


@dataclass(frozen=True)
class Tried:
    """The typed drill as far as it can be read.

    Parameters
    ----------
    path : Path
        Where it is to be saved.
    text : str
        What its file will say; empty while something is wrong.
    drill : Drill or None
        What comes of it.
    trouble : CoachError or None
        What is wrong.
    """

    path: Path
    text: str = ""
    drill: Drill | None = None
    trouble: CoachError | None = None


def _usual_name() -> str:
    """Return what a drill is called until it is given a name."""
    return tr("my_drill")


def _usual_circles() -> str:
    """Return the circles that the form begins with: the taught wrist circles of a rope's figure eight."""
    return tr("low 1, rise, high 2, fall")


def make_new_form() -> Form:
    """Return the form with its defaults."""
    return Form(
        (
            Line("name", "name", kind="text", default=tr("{name} (usual)", name=_usual_name())),
            Line("apparatus", "apparatus", APPARATUS[0], APPARATUS),
            Line("counts", "counts", kind="number", low=0.25, high=64, default="4", unit=tr("to a cycle")),
            Line("circles", "circles", kind="text", default=tr("{circles} (usual)", circles=_usual_circles())),
            Line("hands", "hands", HANDS[0], HANDS),
            Line(
                "lag", "lag", kind="number", step=0.5, low=0, high=32, default="0", unit=tr("counts, second hand later")
            ),
        )
    )


def try_drill(form: Form, folder: Path) -> Tried:
    """Return the drill that a form describes, or what is wrong with it.

    Parameters
    ----------
    form : Form
        Of :func:`make_new_form`.
    folder : Path
        Where drills are kept whose name is no path.
    """
    name = form.value("name").strip() or _usual_name()
    path = _path_of(name, folder)
    try:
        _check_name(name, path, folder)
        text = write_new_drill(
            title=path.stem.replace("_", " "),
            apparatus=form.value("apparatus"),
            counts=_number(form, "counts", 4.0),
            # a comma at the end is where she will go on typing, no mistake
            circles=read_circles(form.value("circles").rstrip(" ,") or _usual_circles()),
            hands=tuple(hand.strip() for hand in form.value("hands").split(",")),
            lag=_number(form, "lag", 0.0),
        )
        table = TomlTable(tomllib.loads(text), (), Problems(path.name, find_lines(text)))
        drill = drill_from_table(table, name=path.stem)
        table.problems.raise_if_any()
    except CoachError as error:
        return Tried(path, trouble=error)
    return Tried(path, text, drill)


def save_drill(tried: Tried) -> Path:
    """Write the file of a new drill and return where it is.

    Raises
    ------
    CoachError
        If something is wrong with the drill still, the file exists, or it cannot be written.
    """
    if tried.trouble is not None:
        raise tried.trouble
    try:
        tried.path.parent.mkdir(parents=True, exist_ok=True)
        with tried.path.open("x", encoding="utf-8") as file:
            file.write(tried.text)
    except FileExistsError:
        raise CoachError("new_drill.there_already", where=str(tried.path)) from None
    except OSError as error:
        raise CoachError("new_drill.not_written", where=str(tried.path), reason=error.strerror) from error
    return tried.path


def _path_of(name: str, folder: Path) -> Path:
    """Return the file for a name; a path is kept."""
    path = Path(name if name.endswith(".toml") else f"{name}.toml")
    return path if len(path.parts) > 1 else folder / path


def _check_name(name: str, path: Path, folder: Path) -> None:
    if "\0" in name or path.stem in ("", ".toml"):
        raise CoachError("new_drill.no_file_name", where="name", name=name)
    if path.exists():
        raise CoachError("new_drill.name_taken", where="name", folder=path.parent)
    if path.parent == folder and path.stem in {each.stem for each in list_drills()}:
        raise CoachError("new_drill.name_of_program", where="name", name=path.stem)


def _number(form: Form, key: str, default: float) -> float:
    number = form.line(key).number
    return default if number is None else number


def draw_tried(tried: Tried, *, sentence: str, width: int, height: int, palette: Palette) -> list[Text]:
    """Return the result of the form: its file, and the drill or its problems.

    Parameters
    ----------
    sentence : str
        Why it could not be saved; empty while nothing was tried.
    """
    lines = [Text(f"     {tr('file'):<15}  {_shorten(tried.path, width - 24)}", palette.faint), Text()]
    lines += warn(sentence or (say_error(tried.trouble) if tried.trouble else ""), width, palette)
    if tried.drill is not None:
        lines += [Text(f"  {row}", palette.text) for row in draw_drill(tried.drill, width=width - 6).splitlines()]
    return fill(lines, width, height, palette)


def _shorten(path: Path, room: int) -> str:
    text = str(path)
    return text if len(text) <= room else f"…{text[-room + 1 :]}"


class NewDrillScreen(FormScreen["Path | None"]):
    """A form for a new drill; dismissed with its file, or None where none was saved.

    Parameters
    ----------
    folder : Path
        Where drills are kept whose name is no path.
    form : Form or None
        As it was left the last time.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "save", "save", key_display="Enter", priority=True),
        *CHOOSE_KEYS,
        *CHANGE_KEYS,
        HELP,
        Binding("escape", "back", "back", key_display="Escape"),
        LEAVE,
    ]
    help_name = "new drill"

    def __init__(self, folder: Path, form: Form | None = None) -> None:
        super().__init__(form or make_new_form())
        self._folder = folder
        self._tried = try_drill(self.form, folder)

    def draw_head(self, width: int) -> Text:
        """Return the title and the apparatus."""
        return bar(f" tempo_coach   {tr('a new drill')}", f"{tr(self.form.value('apparatus'))} ", width, self._palette)

    def draw_page(self, width: int, height: int) -> Page:
        """Return the result of the form."""
        return Page(draw_tried(self._tried, sentence=self.sentence, width=width, height=height, palette=self._palette))

    def form_changed(self, _line: Line) -> None:
        """Try what was typed."""
        self._tried = try_drill(self.form, self._folder)

    def action_save(self) -> None:
        """Save it, and go back."""
        try:
            path = save_drill(self._tried)
        except CoachError as error:
            self.sentence = say_error(error)
            self.draw()
        else:
            self.dismiss(path)

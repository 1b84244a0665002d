"""The film of a take, chosen afterwards on a screen of its own and read beside it."""

from __future__ import annotations

import textwrap
from asyncio import to_thread
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.binding import Binding

from tempo_coach import coach
from tempo_coach.coach.practising.form import Form, Line
from tempo_coach.coach.practising.practice import write_beside
from tempo_coach.errors import CoachError
from tempo_coach.observe.film.colours import SHADES
from tempo_coach.observe.film.film_take import CONSTANT
from tempo_coach.observe.film.marker_trace import MarkerSpec
from tempo_coach.report.words.errors import say_error
from tempo_coach.ui.form import CHANGE_KEYS, CHOOSE_KEYS, FormScreen
from tempo_coach.ui.screen import HELP, LEAVE, Page
from tempo_coach.ui.text_rows import bar, fill, warn

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.binding import BindingType

    from tempo_coach.coach.practising.practice import FinishedTake
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.ui.palette import Palette

#: What stands for a colour that is not named: of one hand any will do, of two it says which is which.
ANY = "whatever is coloured and moves"
ASK = "say the colour of its marker"
NOT_FILMED = "none: it was not filmed"
CARE = (
    "The film is read where it lies: nothing of it is copied, sent or kept. Film minors only as their parents and club "
    "allow, and delete what is no longer needed."
)


@dataclass(frozen=True)
class Asked:
    """What was said of a film.

    Parameters
    ----------
    wanted : tuple of MarkerSpec
        None where whatever is coloured and moves is to be followed.
    """

    path: Path
    wanted: tuple[MarkerSpec, ...] = ()
    clap: tuple[float, float] | None = None
    without: tuple[tuple[float, float], ...] = ()


def make_film_form(plan: Plan) -> Form:
    """Return the form: the file, a marker's colour a hand, and what is seldom needed."""
    if len(plan.hands) == 1:
        hands = [Line(f"hand {plan.hands[0]}", plan.hands[0], ANY, (ANY, *SHADES))]
    else:
        hands = [Line(f"hand {hand}", hand, ASK, (ASK, *SHADES, NOT_FILMED)) for hand in plan.hands]
    return Form(
        (
            Line("film", "film", kind="text", default="type or drop its name here"),
            *hands,
            Line("clap", "clap", kind="text", default="the music tells. Else seconds (film, take): 2.1 0.5"),
            Line("without", "leave out", kind="text", default="nothing. Or seconds of the film: 12.0-13.5"),
        )
    )


def read_film_form(form: Form, plan: Plan) -> Asked:
    """Return what a form says.

    Raises
    ------
    CoachError
        If it names no film, or what it says makes no sense.
    """
    name = form.value("film").strip().strip("'\"").strip()
    if not name:
        raise CoachError("filmed.no_name", where="film")
    colours = {hand: form.value(f"hand {hand}") for hand in plan.hands}
    named = {hand: colour for hand, colour in colours.items() if colour in SHADES}
    if ASK in colours.values() or not (named or ANY in colours.values()):
        raise CoachError(
            "filmed.no_colour", where=next((hand for hand, colour in colours.items() if colour == ASK), plan.hands[0])
        )
    clap = form.value("clap").replace(",", " ").split()
    without = form.value("without").replace(",", " ").split()
    try:
        told = (float(clap[0]), float(clap[1])) if len(clap) == 2 else None
    except ValueError:
        told = None
    if clap and told is None:
        raise CoachError("filmed.no_clap", where="clap", found=" ".join(clap))
    wanted = tuple(MarkerSpec(hand, colour) for hand, colour in named.items())
    return Asked(
        Path(name).expanduser(), wanted, told, tuple(coach.read_stretch(text, where="leave out") for text in without)
    )


def read_film_take(
    asked: Asked,
    last: FinishedTake,
    *,
    keep: Callable[[FinishedTake, str], str] | None = None,
    progress: Callable[[float], None] | None = None,
) -> FinishedTake:
    """Return a take as its film shows it, with its scorecard, in a file beside that of the take.

    Parameters
    ----------
    last : FinishedTake
        The take as it was practised.
    keep : callable or None
        Puts it into the history, as :class:`tempo_coach.coach.practising.practice.PracticeContext` has it.
    progress : callable or None

    Raises
    ------
    CoachError
        If the film cannot be read, or shows nothing of the take.
    """
    said: list[str] = []
    placed = coach.read_film(
        asked.path,
        last.take.plan,
        wanted=asked.wanted,
        clap=asked.clap,
        without=asked.without,
        warn=said.append,
        progress=progress,
    )
    found = replace(last, take=placed.take, card=coach.judge_placed(placed), trouble="")
    done = write_beside(found, how="film", extra={"film": str(asked.path.resolve())})
    # what is true of every film stands in the help
    told = [sentence for sentence in said if CONSTANT[1:] not in sentence]
    unkept = "" if keep is None else keep(done, "film")
    return replace(done, unkept=unkept, trouble=" ".join(filter(None, (done.trouble, *told))))


def draw_reading(*, share: float | None, sentence: str, width: int, height: int, palette: Palette) -> list[Text]:
    """Return what stands below the form.

    Parameters
    ----------
    share : float or None
        How much of the film has been read; None while it is not being read.
    sentence : str
        Why it could not be read; empty while nothing was tried.
    """
    lines = [Text()]
    if share is not None:
        lines.append(Text(f"  reading the film … {share:4.0%}", palette.strong))
    lines += warn(sentence, width, palette)
    lines.append(Text())
    lines += [Text(f"  {row}", palette.faint) for row in textwrap.wrap(CARE, width - 4)]
    return fill(lines, width, height, palette)


#: Pictures a second while a film is read.
_PICTURES_HZ = 5.0


class FilmedScreen(FormScreen["FinishedTake | None"]):
    """A form for the film of a take; dismissed with the take that was read from it, or None.

    Parameters
    ----------
    last : FinishedTake
        The take as it was practised.
    form : Form or None
        As it was left the last time.
    keep : callable or None
        Puts the take into the history.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "read", "read it", key_display="Enter", priority=True),
        *CHOOSE_KEYS,
        *CHANGE_KEYS,
        HELP,
        Binding("escape", "stop", "stop", key_display="Escape"),
        Binding("escape", "back", "back", key_display="Escape"),
        LEAVE,
    ]
    help_name = "the film"

    def __init__(
        self, last: FinishedTake, *, form: Form | None = None, keep: Callable[[FinishedTake, str], str] | None = None
    ) -> None:
        super().__init__(form or make_film_form(last.take.plan))
        self._last = last
        self._keep = keep
        self._share: float | None = None
        self._stopped = False

    def on_mount(self) -> None:
        """Draw, and again while a film is read."""
        self.set_interval(1 / _PICTURES_HZ, self._draw_reading)

    def on_unmount(self) -> None:
        """Stop reading, however the screen went away."""
        self._stopped = True

    def draw_head(self, width: int) -> Text:
        """Return what it is, and the drill."""
        return bar(" tempo_coach   the film of the take", f"{self._last.take.plan.title} ", width, self._palette)

    def draw_page(self, width: int, height: int) -> Page:
        """Return how far the film has been read."""
        return Page(
            draw_reading(share=self._share, sentence=self.sentence, width=width, height=height, palette=self._palette)
        )

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """While a film is read it can be stopped, and nothing else."""
        reading = self._share is not None
        if action in ("stop", "back"):
            return reading is (action == "stop")
        return super().check_action(action, parameters) and (not reading or action == "leave")

    def action_stop(self) -> None:
        """Stop reading, and go back."""
        self._stopped = True
        self.dismiss(None)

    def action_read(self) -> None:
        """Read the film."""
        try:
            asked = read_film_form(self.form, self._last.take.plan)
        except CoachError as error:
            self.sentence = say_error(error)
        else:
            self.sentence, self._share = "", 0.0
            self.hold_still(True)
            self.run_worker(self._read_beside(asked))
        self.draw()

    async def _read_beside(self, asked: Asked) -> None:
        try:
            done = await to_thread(read_film_take, asked, self._last, keep=self._keep, progress=self._note)
        except CoachError as error:
            if not self._stopped:
                self.sentence, self._share = say_error(error), None
                self.hold_still(False)
                self.draw()
        else:
            if not self._stopped:
                self.dismiss(done)

    def _note(self, share: float) -> None:
        """Note how far it is, in the thread that reads; and end it where nobody waits for it any more."""
        if self._stopped:
            raise CoachError("filmed.broken_off")
        self._share = share

    def _draw_reading(self) -> None:
        if self._share is not None:
            self.draw()

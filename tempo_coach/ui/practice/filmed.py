"""The film of a take, chosen afterwards on a screen of its own and read beside it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from tempo_coach import coach
from tempo_coach.coach.choices import offer_films
from tempo_coach.coach.film_choices import keep_film, recall_film
from tempo_coach.coach.practising.form import Form
from tempo_coach.coach.practising.form_line import Line
from tempo_coach.coach.practising.practice import write_beside
from tempo_coach.errors import CoachError
from tempo_coach.observe.film.colours import SHADES
from tempo_coach.observe.film.film_take import DELAYS
from tempo_coach.observe.film.marker_trace import MarkerSpec
from tempo_coach.observe.film.motion import Region
from tempo_coach.ui.practice.afterwards import AfterwardsScreen

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from tempo_coach.coach.practising.practice import FinishedTake, Keep
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.reasons import Note
    from tempo_coach.ui.practice.afterwards import Read

#: What stands for a colour that is not named: of one hand any will do, of two it says which is which.
HAND_WORDS = (
    "whatever is coloured and moves",
    "say the colour of its marker",
    "no marker: how it moves",
    "none: it was not filmed",
)
ANY, ASK, NO_MARKER, NOT_FILMED = HAND_WORDS
CARE = (
    "The film is read where it lies: nothing of it is copied, sent or kept. Film minors only as their parents and club "
    "allow, and delete what is no longer needed."
)


@dataclass(frozen=True)
class Asked:
    """Answers about a film.

    Parameters
    ----------
    wanted : tuple of MarkerSpec
        None where whatever is coloured and moves is to be followed.
    parts : tuple of Region
        The hand that has no marker, which is followed by how it moves.
    """

    path: Path
    wanted: tuple[MarkerSpec, ...] = ()
    parts: tuple[Region, ...] = ()
    clap: tuple[float, float] | None = None
    without: tuple[tuple[float, float], ...] = ()


def make_film_form(plan: Plan) -> Form:
    """Return the form: the file, a marker's colour a hand, and rarely needed options."""
    if len(plan.hands) == 1:
        hands = [Line(f"hand {plan.hands[0]}", plan.hands[0], ANY, (ANY, NO_MARKER, *SHADES))]
    else:
        hands = [Line(f"hand {hand}", hand, ASK, (ASK, *SHADES, NO_MARKER, NOT_FILMED)) for hand in plan.hands]
    return Form(
        (
            Line("film", "film", kind="text", default="→ the newest, or type or drop its name"),
            *hands,
            Line("clap", "clap", kind="text", default="the music tells. Else seconds (film, take): 2.1 0.5"),
            Line("without", "leave out", kind="text", default="nothing. Or seconds of the film: 12.0-13.5"),
        )
    )


def read_film_form(form: Form, plan: Plan) -> Asked:
    """Return the answers in a form.

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
    bare = [hand for hand, colour in colours.items() if colour == NO_MARKER]
    if bare and len(bare) + len(named) > 1:
        raise CoachError("filmed.one_without_marker", where=bare[-1])
    if ASK in colours.values() or not (named or bare or ANY in colours.values()):
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
        Path(name).expanduser(),
        wanted,
        tuple(Region(hand) for hand in bare),
        told,
        tuple(coach.read_stretch(text, where="leave out") for text in without),
    )


def read_film_take(
    asked: Asked,
    last: FinishedTake,
    *,
    keep: Keep | None = None,
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
    said: list[Note] = []
    placed = coach.read_film(
        asked.path,
        last.take.plan,
        wanted=asked.wanted,
        parts=asked.parts,
        clap=asked.clap,
        without=asked.without,
        warn=said.append,
        progress=progress,
    )
    # what is true of every film stands in the help
    told = tuple(each for each in said if each != DELAYS)
    card = coach.judge_placed(placed)
    found = replace(last, take=placed.take, card=card, told=told, film=placed.film, on_take=placed.on_take)
    return write_beside(found, how="film", extra={"film": str(asked.path.resolve())}, keep=keep)


class FilmedScreen(AfterwardsScreen):
    """A form for the film of a take."""

    help_name = "the film"
    heading = "the film of the take"
    reading = "reading the film"
    care = CARE

    def __init__(self, last: FinishedTake, *, form: Form | None = None, keep: Keep | None = None) -> None:
        super().__init__(last, form or make_film_form(last.take.plan), keep=keep)

    def ask(self) -> Read[FinishedTake]:
        """Return a function that reads the film of the form, and keep the choices for it."""
        asked = read_film_form(self.form, self._last.take.plan)
        keep_film(asked.path, {key: value for key, value in self.form.chosen.items() if key != "film"})
        return partial(read_film_take, asked, self._last, keep=self._keep)

    def offer(self) -> Sequence[str]:
        """Return the newest films."""
        return offer_films()

    def form_changed(self, line: Line) -> None:
        """Show the last choices for the film."""
        if line.key == "film" and line.value:
            self.form = self.form.with_chosen(recall_film(Path(line.value.strip().strip("'\"")).expanduser()))

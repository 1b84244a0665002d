"""The table of a sensor worn in a take, chosen afterwards; what its columns are is asked where nothing says it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from tempo_coach import coach
from tempo_coach.coach.choices import offer_tables
from tempo_coach.coach.practising.form import Form
from tempo_coach.coach.practising.form_line import Line
from tempo_coach.coach.practising.practice import write_beside
from tempo_coach.errors import CoachError
from tempo_coach.languages import tr
from tempo_coach.report.words.errors import message_of
from tempo_coach.report.words.trace import COLUMNS
from tempo_coach.ui.practice.afterwards import AfterwardsScreen

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from tempo_coach.coach.practising.practice import FinishedTake, Keep
    from tempo_coach.reasons import Note
    from tempo_coach.ui.practice.afterwards import Read

#: Value for columns whose meaning nobody has given.
COLUMN_WORDS = ("say what the columns are",)
(ASK,) = COLUMN_WORDS
CARE = (
    "What you say of the columns is kept for all tables with the same header, on the command line too. The table is "
    "read where it lies: nothing of it is sent."
)


@dataclass(frozen=True)
class AskedTable:
    """Answers about a table.

    Parameters
    ----------
    path : Path
    clap : (on the table, on the take) or None
        Seconds at which both clocks saw one event.
    answer : (quantity, unit) or None
        What its columns are, where that was asked.
    """

    path: Path
    clap: tuple[float, float] | None = None
    answer: tuple[str, str] | None = None


def make_table_form() -> Form:
    """Return the form: the file, rarely needed options, and the columns where nothing else tells them."""
    return Form(
        (
            Line("table", "table", kind="text", default="→ the newest, or type or drop its name"),
            Line("clap", "clap", kind="text", default="where it fits best. Else seconds (table, take): 2.1 0.5"),
            Line("columns", "columns"),
        )
    )


def read_table_form(form: Form) -> AskedTable:
    """Return the answers in a form.

    Raises
    ------
    CoachError
        If it names no table, or what it says makes no sense.
    """
    name = form.value("table").strip().strip("'\"").strip()
    if not name:
        raise CoachError("sensed.no_name", where="table")
    clap = form.value("clap").replace(",", " ").split()
    try:
        told = (float(clap[0]), float(clap[1])) if len(clap) == 2 else None
    except ValueError:
        told = None
    if clap and told is None:
        raise CoachError("sensed.no_clap", where="clap", found=" ".join(clap))
    said = form.line("columns")
    if said.choices and said.value == ASK:
        raise CoachError("sensed.no_columns", where="columns")
    answer = next((key for key, words in COLUMNS.items() if words == said.value), None)
    return AskedTable(Path(name).expanduser(), told, answer)


def read_sensor_take(
    asked: AskedTable,
    last: FinishedTake,
    *,
    keep: Keep | None = None,
    progress: Callable[[float], None],
) -> FinishedTake:
    """Return a take as the table of a sensor shows it, with its scorecard, in a file beside that of the take.

    Parameters
    ----------
    last : FinishedTake
        The take as it was practised.
    keep : callable or None
        Puts it into the history, as :class:`tempo_coach.coach.practising.practice.PracticeContext` has it.
    progress : callable

    Raises
    ------
    CoachError
        If the table cannot be read, or shows nothing of the take; ``unit.untold`` where nothing says what its columns
        are.
    """
    said: list[Note] = []
    trace = coach.read_answered(asked.path, units=dict([asked.answer]) if asked.answer else None)
    progress(0.3)
    placed = coach.place_trace(trace, last.take.plan, clap=asked.clap, warn=said.append)
    if asked.answer:
        coach.keep_answer(asked.path, *asked.answer)
    progress(0.8)
    found = replace(last, take=placed.take, card=coach.judge_placed(placed), told=tuple(said))
    return write_beside(found, how="sensor", extra={"table": str(asked.path.resolve())}, keep=keep)


class SensorTableScreen(AfterwardsScreen):
    """A form for the table of a take's sensor."""

    help_name = "the table"
    heading = "the sensor's table of the take"
    reading = "reading the table"
    care = CARE

    def __init__(self, last: FinishedTake, *, form: Form | None = None, keep: Keep | None = None) -> None:
        super().__init__(last, form or make_table_form(), keep=keep)
        self._ranges: Mapping[str, tuple[float, float]] = {}
        self._rate_hz = 0.0

    def ask(self) -> Read[FinishedTake]:
        """Return a function that reads the table of the form."""
        return partial(read_sensor_take, read_table_form(self.form), self._last, keep=self._keep)

    def offer(self) -> Sequence[str]:
        """Return the newest tables."""
        return offer_tables()

    def refused(self, error: CoachError) -> None:
        """Say why the table could not be read, or ask for its columns where nothing tells them."""
        super().refused(error)
        if error.code != "unit.untold":
            return
        ranges, rate = error.facts["ranges"], error.facts["rate_hz"]
        if isinstance(ranges, dict) and isinstance(rate, float):
            self.sentence = f"{error.where}: {message_of(error)}."
            self._ranges, self._rate_hz = ranges, rate
            self.form = self.form.put(Line("columns", "columns", ASK, (ASK, *COLUMNS.values())))

    def form_changed(self, line: Line) -> None:
        """Withdraw the question about an earlier table."""
        if line.key == "table" and self._ranges:
            self._ranges = {}
            self.form = self.form.put(Line("columns", "columns"))

    @property
    def told(self) -> Sequence[str]:
        """The unexplained columns, with their ranges and their rate."""
        return [
            tr(
                "{name:<12} {low:>10.4g} to {high:<10.4g} {rate_hz:.4g} readings a second",
                name=name[:30],
                low=low,
                high=high,
                rate_hz=self._rate_hz,
            )
            for name, (low, high) in self._ranges.items()
        ]

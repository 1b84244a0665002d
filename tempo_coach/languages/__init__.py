"""Her language: English sentences, looked up in a catalogue at the moment they are used.

The sentences of the code are English and are the keys of the catalogues: ``<code>/messages.po`` beside this file. A
sentence is looked up whole, with named placeholders, since word order differs; numbers in them get the separators of
the language. What programs read (JSON, tables, files, commands, options) stays English.

``choice`` decides on the language, ``catalogue`` reads its file and ``filled_forms`` writes its numbers and dates.
``extraction`` collects the sentences of the source, and ``kept_places`` checks the placeholders of translations.
"""

from __future__ import annotations

from contextlib import contextmanager
from contextvars import ContextVar
from functools import wraps
from typing import TYPE_CHECKING, ParamSpec, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from string import Formatter

_P = ParamSpec("_P")
_T = TypeVar("_T")

#: Between a sense and its word in a key (gettext's contexts: GNU gettext manual, "The Format of GNU MO Files").
SENSE = "\x04"
#: Keys that show how numbers are written: thousands and the decimal sign, a share of a hundred.
NUMBER, PERCENT = "1,234.5", "50%"
#: What the language calls itself.
OWN_NAME = "English"
#: A day of the year in a sentence.
DAY = "{day} {date:%B} {year}"
#: Months and days of the week as they stand in a date, whole and short.
MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
SHORT_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


class Language:
    """A language that can be spoken.

    Parameters
    ----------
    code : str
        As in ISO 639, with a country after ``_`` where that matters: ``de``, ``pt_BR``.
    find : callable or None
        Returns the translation of a key, or None; of a plural's two keys with a NUL between them, all its forms with
        NULs between them. None for English, which the keys are.
    form_of : callable
        Returns which of its forms goes with a number.
    """

    def __init__(
        self,
        code: str,
        find: Callable[[str], str | None] | None = None,
        form_of: Callable[[int], int] = lambda number: int(number != 1),
    ) -> None:
        self.code = code
        self._find = find
        self._form_of = form_of
        self._forms: Formatter | None = None

    def look_up(self, text: str) -> str:
        """Return a sentence in this language; as it stands where it is in no catalogue."""
        return text if self._find is None or not text else (self._find(text) or text)

    def knows(self, text: str) -> bool:
        """Return whether a sentence has a translation of its own."""
        return self._find is not None and bool(text) and bool(self._find(text))

    def look_up_number(self, one: str, many: str, number: int) -> str:
        """Return the form of a sentence that goes with a number."""
        found = None if self._find is None else self._find(f"{one}\0{many}")
        if found is None:
            return one if number == 1 else many
        forms = found.split("\0")
        return forms[min(self._form_of(number), len(forms) - 1)]

    def fill(self, form: str, values: Sequence[object], places: Mapping[str, object]) -> str:
        """Return a form with its places filled, numbers as they are written in this language."""
        if self._find is None:
            return form.format(*values, **places)
        if self._forms is None:
            from tempo_coach.languages.filled_forms import FormsWithNumbers

            self._forms = FormsWithNumbers(self.look_up)
        return self._forms.vformat(form, values, places)


ENGLISH = Language("en")
_spoken = ENGLISH
_for_now: ContextVar[Language | None] = ContextVar("language", default=None)


def speak(language: Language) -> None:
    """Have everything said in a language from now on."""
    global _spoken  # noqa: PLW0603  one process speaks one language
    _spoken = language


def spoken() -> Language:
    """Return the language in which something is said now."""
    return _for_now.get() or _spoken


def is_known(text: str) -> bool:
    """Return whether a sentence has a translation in the language that is spoken."""
    return spoken().knows(text)


@contextmanager
def speaking(language: Language) -> Iterator[None]:
    """Have what is inside said in a language."""
    token = _for_now.set(language)
    try:
        yield
    finally:
        _for_now.reset(token)


def in_english(make: Callable[_P, _T]) -> Callable[_P, _T]:
    """Return a function that makes its words in English whatever is spoken: those that programs read."""

    @wraps(make)
    def make_in_english(*args: _P.args, **options: _P.kwargs) -> _T:
        with speaking(ENGLISH):
            return make(*args, **options)

    return make_in_english


def tr(form: str, /, *values: object, **places: object) -> str:
    """Return a sentence in the language that is spoken.

    Parameters
    ----------
    form : str
        The English sentence, with named places as in :meth:`str.format`; without places it stands as it is.
    *values, **places : object
        What is put into the places.

    Examples
    --------
    >>> tr("You came in {size} late.", size="a whole cycle")
    'You came in a whole cycle late.'
    """
    language = spoken()
    text = language.look_up(form)
    return language.fill(text, values, places) if values or places else text


def tr_as(sense: str, word: str) -> str:
    """Return a word that has several senses, in one of them, in the language that is spoken.

    Examples
    --------
    >>> tr_as("direction", "back")
    'back'
    """
    key = f"{sense}{SENSE}{word}"
    said = spoken().look_up(key)
    return tr(word) if said == key else said


def tr_n(one: str, many: str, number: int, /, **places: object) -> str:
    """Return a sentence of a number of things in the language that is spoken.

    Parameters
    ----------
    one, many : str
        The English sentence of one thing and of several.
    number : int
        Of the things; what ``{number}`` stands for.
    **places : object
        As of :func:`tr`.

    Examples
    --------
    >>> tr_n("{number} take", "{number} takes", 1), tr_n("{number} take", "{number} takes", 12)
    ('1 take', '12 takes')
    """
    language = spoken()
    return language.fill(language.look_up_number(one, many, number), (), {"number": number, **places})

"""The one error that a person can put right."""

from tempo_coach.signs import show_controls

_ENDS = (".", "?", "!")


class CoachError(Exception):
    """Something the user can mend: what was expected, what was found, where, and the next step.

    Anything else that goes wrong is a bug and stays an ordinary exception.

    Parameters
    ----------
    message : str
        What was expected and what was found, in one plain sentence without a full stop at its end.
    where : str or None
        The file, ``file:line`` or option that it is about.
    hint : str or None
        What to do next, in one plain sentence without a full stop.

    Examples
    --------
    >>> print(CoachError("expected a tempo of 20 to 400 beats a minute, got 0", where="--tempo"))
    --tempo: expected a tempo of 20 to 400 beats a minute, got 0.
    >>> print(CoachError("there is no such drill", hint="name one of those that are listed"))
    there is no such drill; name one of those that are listed.
    """

    def __init__(self, message: str, *, where: str | None = None, hint: str | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.where = where
        self.hint = hint

    def __str__(self) -> str:
        place = f"{self.where}: " if self.where else ""
        if not self.hint:
            return show_controls(f"{place}{_sentence(self.message)}")
        # one sentence: a hint may begin with a key, an option or a command, which no capital may change
        joint = " " if self.message.endswith(_ENDS) else "; "
        return show_controls(f"{place}{self.message}{joint}{_sentence(self.hint)}")  # on one line, whatever it tells


class WrongUsage(CoachError):  # noqa: N818  the name says what it is
    """Words of a command line that do not go together, or that the command has no use for."""


class CoachErrors(CoachError):  # noqa: N818  the plural of CoachError
    """Several things of one file that the user can mend, all reported at once.

    Parameters
    ----------
    problems : list of CoachError
        In the order in which they stand in the file; never empty.
    """

    def __init__(self, problems: list[CoachError]) -> None:
        if not problems:
            raise ValueError("CoachErrors needs at least one problem")
        super().__init__(problems[0].message, where=problems[0].where, hint=problems[0].hint)
        self.problems = tuple(problems)

    def __str__(self) -> str:
        return "\n".join(str(problem) for problem in self.problems)


def nearest(word: str, known: list[str]) -> str | None:
    """Return the known word that a mistyped one was probably meant to be, or None.

    Parameters
    ----------
    word : str
        As it was typed.
    known : list of str
    """
    import difflib

    close = difflib.get_close_matches(word, known, n=1, cutoff=0.6)
    return close[0] if close else None


def _sentence(text: str) -> str:
    return text if text.endswith(_ENDS) else f"{text}."

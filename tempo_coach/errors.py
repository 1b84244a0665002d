"""The one error that a person can put right: a code with facts, and no words."""

from __future__ import annotations

from tempo_coach.signs import show_controls


class CoachError(Exception):
    """Something the user can mend, as a code with facts.

    What is said of it stands in :mod:`tempo_coach.report.words.errors`: what was expected, what was found, and the
    next step. Anything else that goes wrong is a bug and stays an ordinary exception.

    Parameters
    ----------
    code : str
        A short dotted name of what is wrong: ``toss.catch_above_apex``.
    where : str or None
        The file, ``file:line`` or option that it is about.
    **facts : object
        What its sentence tells: numbers named with their units, names of files, columns, drills and options, what was
        typed, another error. Of words there are codes alone.

    Examples
    --------
    >>> print(CoachError("toss.catch_above_apex", where="catch", apex_m=1.2, catch_m=1.5))
    catch: toss.catch_above_apex (apex_m=1.2, catch_m=1.5)
    """

    def __init__(self, code: str, *, where: str | None = None, **facts: object) -> None:
        super().__init__(code)
        self.code = code
        self.where = where
        self.facts = facts

    def __str__(self) -> str:
        place = f"{self.where}: " if self.where else ""
        facts = ", ".join(f"{name}={value!s}" for name, value in self.facts.items())
        return show_controls(f"{place}{self.code}{f' ({facts})' if facts else ''}")

    def at(self, where: str | None) -> CoachError:
        """Return the same error at another place."""
        return type(self)(self.code, where=where, **self.facts)


class WrongUsage(CoachError):  # noqa: N818  the name says what it is
    """Words of a command line that contradict each other, or that the command cannot use."""


class CoachErrors(CoachError):  # noqa: N818  the plural of CoachError
    """Several errors in one file, all reported at once.

    Parameters
    ----------
    problems : list of CoachError
        In the order in which they stand in the file; never empty.
    """

    def __init__(self, problems: list[CoachError]) -> None:
        if not problems:
            raise ValueError("CoachErrors needs at least one problem")
        super().__init__(problems[0].code, where=problems[0].where, **problems[0].facts)
        self.problems = tuple(problems)

    def __str__(self) -> str:
        return "\n".join(str(problem) for problem in self.problems)

    def at(self, where: str | None) -> CoachError:
        """Return the first of them at another place."""
        return self.problems[0].at(where)


def nearest(word: str, known: list[str]) -> str | None:
    """Return the known word nearest to a mistyped one, or None.

    Parameters
    ----------
    word : str
        As it was typed.
    known : list of str
    """
    import difflib

    close = difflib.get_close_matches(word, known, n=1, cutoff=0.6)
    return close[0] if close else None

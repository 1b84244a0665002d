"""What a person is told, in tests: by an error that she can mend, and while the work goes on."""

from __future__ import annotations

import re
from contextlib import contextmanager
from typing import TYPE_CHECKING

import pytest

from tempo_coach.errors import CoachError
from tempo_coach.report.words.errors import say_error
from tempo_coach.report.words.reasons import say_note

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from tempo_coach.reasons import Note


@contextmanager
def refused(match: str, *, error: type[CoachError] = CoachError) -> Iterator[pytest.ExceptionInfo[CoachError]]:
    """Expect an error whose sentence has what matches; its info is given, filled behind the block."""
    with pytest.raises(error) as caught:
        yield caught
    said = say_error(caught.value)
    assert re.search(match, said), f"{match!r} does not match {said!r}"


def into(said: list[str]) -> Callable[[Note], None]:
    """Return what writes the words of each note into a list."""
    return lambda note: said.append(say_note(note))

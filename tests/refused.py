"""What an error that a person can mend says, in tests."""

from __future__ import annotations

import re
from contextlib import contextmanager
from typing import TYPE_CHECKING

import pytest

from tempo_coach.errors import CoachError
from tempo_coach.report.words.errors import say_error

if TYPE_CHECKING:
    from collections.abc import Iterator


@contextmanager
def refused(match: str, *, error: type[CoachError] = CoachError) -> Iterator[pytest.ExceptionInfo[CoachError]]:
    """Expect an error whose sentence has what matches; its info is given, filled behind the block."""
    with pytest.raises(error) as caught:
        yield caught
    said = say_error(caught.value)
    assert re.search(match, said), f"{match!r} does not match {said!r}"

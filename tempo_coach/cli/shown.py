"""Both outputs of a command, showing whatever they are given: no order to the terminal, no sign that is lacking."""

from __future__ import annotations

import contextlib
import io
import sys
from typing import TYPE_CHECKING, TextIO

from tempo_coach.signs import in_encoding, show_controls

if TYPE_CHECKING:
    from collections.abc import Iterator


@contextlib.contextmanager
def shown_output() -> Iterator[None]:
    """Show what is printed to stdout and stderr as signs that they have."""
    with contextlib.ExitStack() as stack:
        if sys.stdout is not None:
            stack.enter_context(contextlib.redirect_stdout(Shown(sys.stdout)))
        if sys.stderr is not None:
            stack.enter_context(contextlib.redirect_stderr(Shown(sys.stderr)))
        yield


class Shown(io.TextIOBase):
    """Hands text on in signs that are shown; only lines and tabs are obeyed.

    Parameters
    ----------
    to : text stream
    """

    def __init__(self, to: TextIO) -> None:
        super().__init__()
        self._to = to

    @property
    def encoding(self) -> str | None:  # type: ignore[override]  # a stream in memory has none
        """That of the stream, None where it takes everything."""
        return getattr(self._to, "encoding", None)

    @property
    def errors(self) -> str | None:  # type: ignore[override]  # it is that of the stream
        """How the stream meets what it lacks."""
        return getattr(self._to, "errors", None)

    def write(self, text: str) -> int:
        """Write text as it is shown."""
        self._to.write(in_encoding(show_controls(text, keep="\n\t"), self.encoding))
        return len(text)

    def write_in_place(self, text: str) -> None:
        """Write the program's own text that goes back to the begin of the line."""
        self._to.write(in_encoding(text, self.encoding))

    def flush(self) -> None:
        """Hand on what is held back."""
        self._to.flush()

    def fileno(self) -> int:
        """Return the descriptor."""
        return self._to.fileno()

    def isatty(self) -> bool:
        """Return whether it is a terminal."""
        return self._to.isatty()

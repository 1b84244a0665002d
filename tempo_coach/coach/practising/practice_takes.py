"""Takes of one practice: the newest ones, the file of each, and what is still to be done about them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from tempo_coach.coach.practising.practice import is_unwritten

if TYPE_CHECKING:
    from pathlib import Path

    from tempo_coach.coach.practising.practice import FinishedTake


class PracticeTakes:
    """Takes of one practice.

    Attributes
    ----------
    done : list of FinishedTake
        The newest take and the one before it, which is all that is shown and compared.
    paths : list of Path or None
        Where every take so far lies; None where it was in memory alone.
    unkept : list of Path
        Those that are not in the history though they should be.
    homeless : dict of int to FinishedTake
        The takes that lie in memory alone because their own place did not take them, by their number from 0.
    """

    def __init__(self) -> None:
        self.done: list[FinishedTake] = []
        self.paths: list[Path | None] = []
        self.unkept: list[Path] = []
        self.homeless: dict[int, FinishedTake] = {}

    def add(self, done: FinishedTake) -> None:
        """Add a finished, judged take."""
        self.done = [*self.done[-1:], done]
        self.note(done)

    def put_in_place(self, done: FinishedTake) -> None:
        """Replace the newest take by the same one observed anew."""
        self.done[-1] = done
        self.note(done)

    def put_late(self, done: FinishedTake) -> None:
        """Replace the newest take by the same one judged again, in its own file."""
        self.paths.pop()
        self.put_in_place(replace(done, before=self.done[-1].before))

    def note(self, done: FinishedTake) -> None:
        """Remember the file of a take, and what is still to be done about it."""
        if done.homeless is not None:
            self.homeless[len(self.paths)] = done
        elif done.unkept and done.path is not None:
            self.unkept.append(done.path)
        self.paths.append(done.path)

    def write_elsewhere(self, path: Path) -> None:
        """Write the takes that exist only in memory to another place.

        Parameters
        ----------
        path : Path
            A file for the newest one, and its folder for the others; or a folder, where each keeps its name.

        Raises
        ------
        CoachError
            If one of them cannot be written there. Those that were stay there.
        """
        newest = max(self.homeless, default=-1)
        for index, done in sorted(self.homeless.items(), reverse=True):
            writer = done.homeless
            if writer is None:
                raise ValueError("expected a take that has no place")
            if path.is_dir():
                writer.write_again(path / writer.path.name)
            else:
                writer.write_again(path if index == newest else path.parent / writer.path.name)
            del self.homeless[index]
            told = tuple(each for each in done.told if not is_unwritten(each))
            at_home = replace(done, path=writer.path, told=told, homeless=None)
            self.paths[index] = writer.path
            self.done = [at_home if each is done else each for each in self.done]
            if done.unkept:
                self.unkept.append(writer.path)

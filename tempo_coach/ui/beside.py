"""A take that is observed in another way once it is over: into a file of its own, beside the one that was practised."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from tempo_coach.observe.takefile import ENDING, read_take_file
from tempo_coach.observe.takewriter import TakeWriter

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from tempo_coach.ui.go import Done


def write_beside(done: Done, *, how: str, extra: Mapping[str, object] | None = None) -> Done:
    """Write a take that was observed anew into a file of its own, and return it with that file.

    Parameters
    ----------
    done : Done
        The take as observed anew, with the file of the one that was practised.
    how : str
        How it was observed, as the file's name and its end have it.
    extra : mapping or None
        What else its head says.
    """
    practised = done.homeless.path if done.homeless is not None else done.path
    if practised is None:
        return done
    take = done.take
    writer = TakeWriter(
        free_name(practised, how),
        take.plan,
        observed_by=take.observed_by,
        begun=done.homeless.begun if done.homeless is not None else read_take_file(practised).begun,
        extra=dict(extra or {}),
    )
    rows = list(zip(take.onsets.time.tolist(), take.onsets.hand, strict=True))
    writer.finish(
        rows,
        how=how,
        noise_floor_ms=take.noise_floor_ms,
        unmeasurable=take.unmeasurable,
        calibrated=take.calibrated,
    )
    return written(done, writer)


def written(done: Done, writer: TakeWriter) -> Done:
    """Return a take with the place where it was written; with what writes it elsewhere, where that did not take it."""
    if writer.whole:
        return replace(done, path=writer.path, trouble="", homeless=None)
    return replace(done, path=None, trouble=writer.sentence, homeless=writer)


def free_name(path: Path, how: str) -> Path:
    """Return a name beside a take's file that is not taken: the take's own, then how it was observed."""
    stem = path.name.removesuffix(ENDING)
    numbers = (f"{stem}_{how}{'' if k == 1 else f'_{k}'}{ENDING}" for k in range(1, 1000))
    return next((path.with_name(name) for name in numbers if not path.with_name(name).exists()), path)

"""Several files by one command: each done as if alone, on all cores or by a Dask scheduler, and one table of all."""

from __future__ import annotations

import contextlib
import copy
import io
import json
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tempo_coach.cli.options import refuse_unused
from tempo_coach.cli.workers import WORKERS, add_workers, check_workers, count_jobs
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Mapping, Sequence

#: Files from which on all cores work, where nothing else is asked for.
MANY = 4
#: Files handed out at a time, so that progress can be shown.
TOGETHER = 16


def add_many(parser: argparse.ArgumentParser) -> None:
    """Add the options for several files."""
    group = parser.add_argument_group("several files at once: each is done alone, and one table tells of all")
    add_workers(group, of_files=True)


def take_one(args: argparse.Namespace, field: str) -> argparse.Namespace:
    """Return the options with a single file, or None, in the field that may hold several.

    Raises
    ------
    CoachError
        If something was asked for that is of several files.
    """
    refuse_unused(args, WORKERS, "with one file", unless=False)
    one = copy.copy(args)  # a question may let the command begin again with what was given
    setattr(one, field, next(iter(getattr(args, field) or ()), None))
    return one


def run_many(
    args: argparse.Namespace,
    field: str,
    *,
    columns: Mapping[str, Callable[[Any], str]],
    refused: str = "",
    folder: str | None = None,
) -> int:
    """Run the command on each file, and print one table, or with ``--json`` one object.

    Parameters
    ----------
    args : argparse.Namespace
        As it was given, all files in one field.
    field : str
        The option that holds the files.
    columns : mapping of str to callable
        Head of each column, and what makes it of a file's JSON.
    refused : str
        Options that would be of all files at once.
    folder : str or None
        The option that names a folder, into which each file's own output goes.

    Returns
    -------
    int
        Exit code: 1 where anything was wrong with one of them.

    Raises
    ------
    CoachError
        If options do not go together, or the workers cannot be reached.
    """
    from tempo_coach.cli.output import Progress, print_json
    from tempo_coach.coach.spreading import spread
    from tempo_coach.errors import CoachError

    files: list[str] = getattr(args, field)
    refuse_unused(args, refused, "with several files", unless=False)
    check_workers(args, where="--backend")
    jobs = count_jobs(args, len(files), many=MANY)
    # of outputs in one folder the names alone are different
    names = [Path(each).stem for each in files] if folder is not None and getattr(args, folder) else files
    twice = [file for file, name in zip(files, names, strict=True) if names.count(name) > 1]
    if twice:
        raise CoachError("many.twice", where=twice[0])
    each_alone = [_of_one(args, field, file, folder) for file in files]
    made: list[dict[str, Any]] = []
    with Progress(tr("reading the files")) as progress, spread(jobs, args.scheduler) as on_all:
        step = 1 if jobs == 1 and not args.scheduler else TOGETHER
        for done in range(0, len(files), step):
            made += on_all(do_alone, each_alone[done : done + step])
            progress(len(made) / len(files))
    if args.json:
        print_json({"files": dict(zip(files, made, strict=True))})
    else:
        print("\n".join(_tabulate(files, made, columns)))
    return int(any("error" in each for each in made))


def _of_one(args: argparse.Namespace, field: str, file: str, folder: str | None) -> argparse.Namespace:
    one = copy.copy(args)
    setattr(one, field, [file])
    one.json, one.jobs, one.backend, one.scheduler = True, None, "local", None
    one.given = args.given - set(WORKERS.split())
    one.from_folder = str(Path.cwd())
    if folder is not None and getattr(args, folder):
        Path(getattr(args, folder)).mkdir(parents=True, exist_ok=True)
        setattr(one, folder, str(Path(getattr(args, folder)) / f"{Path(file).stem}.csv"))
    return one


def do_alone(args: argparse.Namespace) -> dict[str, Any]:
    """Return a command's result for one file, or ``{"error": ...}``."""
    from tempo_coach.errors import CoachError
    from tempo_coach.report.words.errors import say_error

    said = io.StringIO()
    here = Path.cwd()
    try:
        os.chdir(args.from_folder)
    except OSError:  # another machine that has no such folder
        return {"error": say_error(CoachError("many.not_there", where=args.from_folder))}
    try:
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(io.StringIO()):
            args.run(args)
    except CoachError as error:
        return {"error": say_error(error)}
    finally:
        os.chdir(here)
    found: dict[str, Any] = json.loads(said.getvalue())
    return found


def _tabulate(
    files: Sequence[str], made: Sequence[dict[str, Any]], columns: Mapping[str, Callable[[Any], str]]
) -> list[str]:
    """Return the lines of the table; an error stands after its file's name."""
    rows = [["", *columns]]
    rows += [
        [file] if "error" in values else [file, *(make(values) for make in columns.values())]
        for file, values in zip(files, made, strict=True)
    ]
    widths = [max(len(row[k]) for row in rows if len(row) > k) for k in range(len(rows[0]))]
    lines = []
    for row, values in zip(rows, [{}, *made], strict=True):
        cells = [
            f"{cell:<{width}}" if k == 0 else f"{cell:>{width}}"
            for k, (cell, width) in enumerate(zip(row, widths, strict=False))
        ]
        lines.append("  ".join([*cells, *([values["error"]] if "error" in values else [])]).rstrip())
    return lines

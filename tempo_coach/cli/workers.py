"""Options for work on many things at once: how many processes here, or a Dask scheduler's machines."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse

#: The options, as fields.
WORKERS = "jobs backend scheduler"
#: Most that are asked for at a time.
MOST_JOBS = 1024


def add_workers(group: argparse._ArgumentGroup, *, of_files: bool) -> None:
    """Add the options; of files, the computers need them at the same place, else they are for ``--rescore`` alone."""
    group.add_argument(
        "--jobs",
        type=int,
        metavar="N",
        help="how many at a time (default: as many as this computer can)"
        if of_files
        else "with --rescore: how many to judge at a time (default: as many as this computer can)",
    )
    group.add_argument(
        "--backend",
        choices=("local", "dask"),
        default="local",
        help="where: this computer (local, default), or several (dask), which have the files at the same place"
        if of_files
        else "with --rescore: this computer (local, default), or several (dask)",
    )
    group.add_argument(
        "--scheduler",
        metavar="ADDRESS",
        help="with --backend dask: where its scheduler answers, such as tcp://HOST:8786",
    )


def check_workers(args: argparse.Namespace, *, where: str) -> None:
    """Refuse contradictory options, or an invalid number.

    Parameters
    ----------
    args : argparse.Namespace
    where : str
        The option that asked for them.

    Raises
    ------
    WrongUsage
    """
    from tempo_coach.errors import WrongUsage

    if (args.backend == "dask") != (args.scheduler is not None):
        raise WrongUsage("history.dask_alone", where=where)
    if args.jobs is not None and not (args.jobs == -1 or 1 <= args.jobs <= MOST_JOBS):
        raise WrongUsage("history.jobs", where="--jobs", jobs=args.jobs)


def count_jobs(args: argparse.Namespace, number: int, *, many: int) -> int:
    """Return how many of a number of things to do at a time; -1, all cores, from ``many`` on."""
    jobs: int = args.jobs or (-1 if number >= many or args.scheduler else 1)
    return jobs

"""Work on many things at once: in this process, in several of this machine, or on the machines of a Dask scheduler."""

from __future__ import annotations

import platform
from contextlib import ExitStack, contextmanager
from importlib import metadata
from typing import TYPE_CHECKING, Protocol, TypeVar

from tempo_coach import __version__
from tempo_coach.errors import CoachError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

Thing = TypeVar("Thing")
Made = TypeVar("Made")

#: Seconds in which a scheduler has to answer.
REACHED_WITHIN = 10


class OnAll(Protocol):
    """A function that maps work over many things and returns the results in order."""

    def __call__(self, work: Callable[[Thing], Made], things: Sequence[Thing]) -> Sequence[Made]:
        """Do the work."""


@contextmanager
def spread(jobs: int = 1, scheduler: str | None = None) -> Iterator[OnAll]:
    """Provide a function that maps work over many things.

    Parameters
    ----------
    jobs : int
        Processes of this machine; -1 for one on each core.
    scheduler : str or None
        Address of a Dask scheduler whose workers do it instead. What a worker had when it died is done by another.

    Raises
    ------
    CoachError
        If Dask is missing, no scheduler answers, it has no worker, or a worker has another version of this program or
        of Python.
    """
    if jobs == 1 and scheduler is None:
        yield lambda work, things: [work(each) for each in things]
        return
    from joblib import Parallel, delayed, parallel_config

    with ExitStack() as stack:
        if scheduler is not None:
            stack.enter_context(_reach(scheduler))
            stack.enter_context(parallel_config(backend="dask"))
        workers = stack.enter_context(Parallel(n_jobs=jobs, batch_size="auto"))
        yield lambda work, things: workers(delayed(work)(each) for each in things)


@contextmanager
def _reach(scheduler: str) -> Iterator[None]:
    try:
        from dask.distributed import Client
    except ImportError as error:
        raise CoachError("dask.missing", where="--scheduler") from error
    try:
        client = Client(scheduler, timeout=REACHED_WITHIN)  # type: ignore[no-untyped-call,unused-ignore]
    except (OSError, ValueError) as error:
        raise CoachError("dask.no_scheduler", where=scheduler, reason=error) from error
    with client:
        # functions of the standard library: a worker without this program can still answer
        versions = client.run(metadata.version, "tempo_coach", on_error="return")
        if not versions:
            raise CoachError("dask.no_worker", where=scheduler)
        pythons = client.run(platform.python_version, on_error="return")
        here = (__version__, _minor(platform.python_version()))
        for worker, version in versions.items():
            there = (None if isinstance(version, Exception) else version, _minor(pythons[worker]))
            if there != here:
                raise CoachError("dask.versions", where=worker, here=here, there=there)
        yield


def _minor(version: object) -> str:
    return ".".join(str(version).split(".")[:2])

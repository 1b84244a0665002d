"""Programs killed while they write takes: ``python -m tests.history.kill FOLDER POINT ...`` (POSIX).

Each point is a number of steps of SQLite's own machine after which a child process kills itself, in whatever it is
just doing. What was acknowledged by then stands in ``FOLDER/POINT.acknowledged``, one number of a take a line.
"""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path

from tempo_coach.history.takes import History
from tests.history.season import make_take, said_of

TAKES = 12


def write_until_killed(folder: Path, point: int) -> None:
    """Put takes into a history of its own until the point has come."""
    steps = 0

    def count() -> int:
        nonlocal steps
        steps += 1
        if steps == point:
            os.kill(os.getpid(), signal.SIGKILL)
        return 0

    with History(folder / f"{point}.sqlite") as history:
        history.connection.set_progress_handler(count, 1)
        said = os.open(folder / f"{point}.acknowledged", os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        for seed in range(TAKES):
            number = history.put(
                make_take(seed), said_of(1), athlete="Ada", begun=f"2031-05-{seed + 1:02d}", steady=True, note="noted"
            )
            os.write(said, f"{number}\n".encode())
    os.write(said, b"all\n")


def main(folder: Path, points: list[int]) -> None:
    """Kill a child at each point, one after the other."""
    said_of(1)
    for seed in range(TAKES):
        make_take(seed)
    for point in points:
        child = os.fork()
        if not child:
            try:
                write_until_killed(folder, point)
            finally:
                os._exit(0)
        os.waitpid(child, 0)


if __name__ == "__main__":
    main(Path(sys.argv[1]), [int(word) for word in sys.argv[2:]])

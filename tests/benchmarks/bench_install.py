"""Installing: the seconds that the wheel and the source distribution take in a fresh environment, first run included.

Everything is fetched from the package index that pip is set up with. What the oldest and the newest Python find there
is part of the gate; the tests with the oldest dependencies are ``python -m tests.installing --floors``.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

from tests.benchmarks.table import Row
from tests.installing import INSTALL, ROOT, make_environment

if TYPE_CHECKING:
    from collections.abc import Iterator


def run() -> Iterator[Row]:
    """Yield the seconds of both."""
    with tempfile.TemporaryDirectory() as folder:
        there = Path(folder)
        subprocess.run(
            [sys.executable, "-m", "hatchling", "build", "--directory", folder],
            cwd=ROOT, check=True, capture_output=True,
        )  # fmt: skip
        for kind in ("*.whl", "*.tar.gz"):
            begin = time.monotonic()
            (built,) = there.glob(kind)
            python = make_environment(there / kind.strip("*."))
            # a source distribution is built here, and nothing else may be
            pip = [str(python), "-m", "pip", *INSTALL, "--no-binary=tempo_coach", str(built)]
            subprocess.run(pip, check=True, cwd=folder)
            seconds = time.monotonic() - begin
            command = [str(python.parent / "tempo-coach"), "demo", "--out", str(there / kind.strip("*.") / "demo")]
            subprocess.run(command, check=True, cwd=folder, capture_output=True)
            yield Row(f"{kind.strip('*.')} installed in a fresh environment", seconds, "s")

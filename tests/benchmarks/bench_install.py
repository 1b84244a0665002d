"""Installing: what pip finds for the oldest and the newest Python, and the tests with the oldest dependencies.

It fetches everything from the package index that pip is set up with and runs all tests a second time, which takes as
long as the gate: it stands beside it, and is run before a release and after a change of dependencies.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
import tomllib
import venv
from pathlib import Path
from typing import TYPE_CHECKING

from packaging.markers import default_environment
from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet
from packaging.utils import canonicalize_name

from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parent.parent.parent
#: The oldest that ``requires-python`` lets in, and the newest that every dependency has a wheel for.
PYTHONS = ("3.11", "3.14")
#: Wheels only: whoever installs has no compiler.
INSTALL = ("install", "--quiet", "--disable-pip-version-check", "--only-binary=:all:")


def run() -> Iterator[Row]:
    """Yield what was resolved, the seconds of a fresh installation, and the tests that fail with the floors."""
    with tempfile.TemporaryDirectory() as folder:
        there = Path(folder)
        for python in PYTHONS:
            yield Row(f"packages for Python {python}, film and all", resolve(python, there), "packages")
        subprocess.run(
            [sys.executable, "-m", "hatchling", "build", "--directory", folder],
            cwd=ROOT, check=True, capture_output=True,
        )  # fmt: skip
        for kind in ("*.whl", "*.tar.gz"):
            begin = time.monotonic()
            (built,) = there.glob(kind)
            python = _fresh(there / kind.strip("*."))
            # a source distribution is built here, and nothing else may be
            pip = [str(python), "-m", "pip", *INSTALL, "--no-binary=tempo_coach", str(built)]
            subprocess.run(pip, check=True, cwd=folder)
            seconds = time.monotonic() - begin
            command = [str(python.parent / "tempo-coach"), "demo", "--out", str(there / kind.strip("*.") / "demo")]
            subprocess.run(command, check=True, cwd=folder, capture_output=True)
            yield Row(f"{kind.strip('*.')} installed in a fresh environment", seconds, "s")
        floors = there / "floors.txt"
        floors.write_text("\n".join(find_floors()), encoding="utf-8")
        python = _fresh(there / "floors")
        subprocess.run([str(python), "-m", "pip", *INSTALL, "-c", str(floors), f"{ROOT}[test]"], check=True)
        failed = subprocess.run([str(python), "-m", "pytest", "-q"], cwd=ROOT, check=False).returncode
        yield Row("tests with the oldest dependencies: exit code", failed, floor=0)


def find_floors() -> list[str]:
    """Every dependency of the program at its floor, as constraints for pip."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return [each.replace(">=", "==") for each in (*project["dependencies"], *project["optional-dependencies"]["film"])]


def resolve(python: str, folder: Path) -> int:
    """Return how many packages pip takes for a version of Python, the program with all that it can use.

    pip looks for wheels of that version, but reads conditions such as ``python_version >= "3.13"`` with the version
    it runs on. What it leaves out for that reason is looked for by name, until nothing is left out.
    """
    environment = {**default_environment(), "python_version": python, "python_full_version": f"{python}.0", "extra": ""}
    taken = _dry_run(python, folder, f"{ROOT}[film]")
    while True:
        names = {canonicalize_name(each["name"]) for each in taken}
        needed = [Requirement(text) for each in taken for text in each.get("requires_dist", [])]
        left_out = sorted(
            str(each).split(";")[0].strip()
            for each in needed
            if canonicalize_name(each.name) not in names and (each.marker is None or each.marker.evaluate(environment))
        )
        if not left_out:
            return len(taken)
        # pip install holds a package's Python against its own, also where it was asked for another one
        taken += _dry_run(python, folder, "--no-deps", "--ignore-requires-python", *left_out)


def _dry_run(python: str, folder: Path, *asked: str) -> list[dict]:
    report = folder / f"report_{python}.json"
    pip = [sys.executable, "-m", "pip", *INSTALL, "--dry-run", "--ignore-installed", "--report", str(report)]
    subprocess.run([*pip, "--python-version", python, "--target", str(folder), *asked], check=True, cwd=folder)
    taken = [each["metadata"] for each in json.loads(report.read_text(encoding="utf-8"))["install"]]
    wrong = [each["name"] for each in taken if f"{python}.0" not in SpecifierSet(each.get("requires_python", ""))]
    if wrong:
        raise AssertionError(f"not for Python {python}: {', '.join(wrong)}")
    return taken


def _fresh(folder: Path) -> Path:
    venv.create(folder, with_pip=True)
    return folder / ("Scripts" if os.name == "nt" else "bin") / ("python.exe" if os.name == "nt" else "python")

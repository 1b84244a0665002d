"""Installing: what pip finds for the oldest and the newest Python, and the tests with the oldest dependencies.

``python -m tests.installing`` is the second half of the gate. It fetches from the package index that pip is set up
with, which the tests themselves never do.
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

from packaging.markers import default_environment
from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet
from packaging.utils import canonicalize_name

from tests import SIDE_BY_SIDE

ROOT = Path(__file__).parent.parent
#: The oldest that ``requires-python`` lets in, and the newest that every dependency has a wheel for.
PYTHONS = ("3.11", "3.14")
#: Wheels only: whoever installs has no compiler.
INSTALL = ("install", "--quiet", "--disable-pip-version-check", "--only-binary=:all:")


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


def run_with_floors(folder: Path) -> int:
    """Return the exit code of the tests in an environment whose dependencies are the oldest allowed.

    Tests that play sound take their real time and are left to the first half of the gate.
    """
    floors = folder / "floors.txt"
    floors.write_text("\n".join(find_floors()), encoding="utf-8")
    python = make_environment(folder / "floors")
    subprocess.run([str(python), "-m", "pip", *INSTALL, "-c", str(floors), f"{ROOT}[test]"], check=True)
    tests = [str(python), "-m", "pytest", "-q", *SIDE_BY_SIDE, "-m", "not played", "--hypothesis-profile=floors"]
    return subprocess.run(tests, cwd=ROOT, check=False).returncode


def make_environment(folder: Path) -> Path:
    """Make a fresh environment with pip and return its Python."""
    venv.create(folder, with_pip=True)
    return folder / ("Scripts" if os.name == "nt" else "bin") / ("python.exe" if os.name == "nt" else "python")


def _dry_run(python: str, folder: Path, *asked: str) -> list[dict]:
    report = folder / f"report_{python}.json"
    pip = [sys.executable, "-m", "pip", *INSTALL, "--dry-run", "--ignore-installed", "--report", str(report)]
    subprocess.run([*pip, "--python-version", python, "--target", str(folder), *asked], check=True, cwd=folder)
    taken = [each["metadata"] for each in json.loads(report.read_text(encoding="utf-8"))["install"]]
    wrong = [each["name"] for each in taken if f"{python}.0" not in SpecifierSet(each.get("requires_python", ""))]
    if wrong:
        raise AssertionError(f"not for Python {python}: {', '.join(wrong)}")
    return taken


def main() -> int:
    """Resolve and test; return the exit code."""
    seconds = {}
    with tempfile.TemporaryDirectory() as folder:
        for python in PYTHONS:
            begin = time.monotonic()
            print(f"== packages for Python {python}: {resolve(python, Path(folder))}", flush=True)
            seconds[f"Python {python}"] = time.monotonic() - begin
        begin = time.monotonic()
        print("== tests with the oldest dependencies", flush=True)
        failed = run_with_floors(Path(folder))
        seconds["oldest dependencies"] = time.monotonic() - begin
    print("\nseconds by part: " + ", ".join(f"{name} {took:.1f}" for name, took in seconds.items()))
    print(f"installing: {sum(seconds.values()):.1f} s; " + ("FAILED" if failed else "everything holds"))
    return failed


if __name__ == "__main__":
    sys.exit(main())

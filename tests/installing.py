"""Installing: what pip finds for the oldest and the newest Python, every Python that is here tried for real, and the
tests with the oldest dependencies.

``python -m tests.installing`` resolves, as the second half of the gate; ``--pythons`` tries every Python that is here
as well, ``--floors`` runs the tests with the oldest dependencies, some minutes each. It fetches from the package index
that pip is set up with, which the tests themselves never do.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
import tomllib
import venv
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path

from packaging.markers import default_environment
from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet
from packaging.utils import canonicalize_name

from tests import SIDE_BY_SIDE

#: Asks a Python for its version, and whether it has what the program and its installation need.
_ABOUT = "import ensurepip, sqlite3, ssl, sys; print('%d.%d' % sys.version_info[:2])"
ROOT = Path(__file__).parent.parent
#: The oldest that ``requires-python`` lets in, and the newest that every dependency has a wheel for.
PYTHONS = ("3.11", "3.14")
#: A line of a module that brings in a dependency; numpy aside, which all of them use.
DEPENDENCIES = (
    "scipy|soundfile|librosa|soxr|joblib|sounddevice|textual|platformdirs|shtab|tomlkit"
    "|python_stretch|mido|jinja2|markupsafe|av|cv2"
)
BRINGS_IN = re.compile(rf"^\s*(from|import) ({DEPENDENCIES})\b", re.MULTILINE)
#: Tests that go through many modules at once: the whole way, and all screens.
THROUGH_MANY = ("cli/test_demo.py", "ui/test_screens.py", "ui/test_sizes.py", "cli/test_completion.py")
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


def find_pythons() -> dict[str, str]:
    """Return the Pythons of this machine that the program is for, by their version: one of each."""
    oldest = tuple(map(int, PYTHONS[0].split(".")))
    names = ["python3", *(f"python3.{minor}" for minor in range(oldest[1], oldest[1] + 20))]
    versions = Path(os.environ.get("PYENV_ROOT", Path.home() / ".pyenv")) / "versions"
    # the system's own first: somebody else can run it, which one in somebody's home may not be
    system = [shutil.which(name, path=os.defpath) for name in names]
    own = [sys.executable, *map(shutil.which, names), *map(str, sorted(versions.glob("*/bin/python")))]
    places = [place for place in (*system, *own) if place]
    found: dict[str, str] = {}
    for place in places:
        asked = subprocess.run([place, "-c", _ABOUT], capture_output=True, text=True, check=False)
        version = asked.stdout.strip()
        if asked.returncode == 0 and tuple(map(int, version.split("."))) >= oldest:
            found.setdefault(version, place)
    return dict(sorted(found.items(), key=lambda each: tuple(map(int, each[0].split(".")))))


def try_installed(python: str, wheel: Path, folder: Path, *, user: str | None = None) -> None:
    """Install the wheel for a Python into a folder, and do the main job with it in a home that cannot be written.

    Parameters
    ----------
    python : str
        An interpreter.
    wheel : Path
    folder : Path
        A new one.
    user : str or None
        Who does the job, where that is another one than who installed it.
    """
    subprocess.run([python, "-m", "venv", str(folder / "env")], check=True)
    inside = folder / "env" / ("Scripts" if os.name == "nt" else "bin")
    subprocess.run([str(inside / "python"), "-m", "pip", *INSTALL, str(wheel)], check=True, cwd=folder)
    home, work = folder / "home", folder / "work"
    home.mkdir(mode=0o555)
    work.mkdir()
    if user:
        shutil.chown(work, user)
    # who administers a system may write everywhere: only within a file nobody makes a folder
    (folder / "file").touch()
    private = str(home if user or not is_administrator() else folder / "file" / "home")
    clean = ("PYTHONPATH", "TEMPO_COACH_HISTORY", "XDG_DATA_HOME", "XDG_CACHE_HOME", "NUMBA_CACHE_DIR")
    environment = {name: value for name, value in os.environ.items() if name not in clean}
    environment |= dict.fromkeys(("HOME", "USERPROFILE", "APPDATA", "LOCALAPPDATA"), private)

    def run(*words: str, code: int = 0) -> str:
        who = {"user": user, "group": _group_of(user), "extra_groups": []} if user else {}
        done = subprocess.run(
            [str(inside / "tempo-coach"), *words],
            cwd=work, env=environment, capture_output=True, text=True, check=False, **who,
        )  # fmt: skip
        if done.returncode != code or "Traceback" in done.stderr:
            raise AssertionError(f"tempo-coach {' '.join(words)}: {done.returncode}\n{done.stderr}")
        return done.stdout

    run("--version")
    run("doctor")
    run("demo", "--out", "a demo")
    card = json.loads(run("score", "a demo/onsets.csv", "--plan", "a demo/plan.json", "--json"))
    if card["n"] < 40 or card["missed"]:
        raise AssertionError(f"the demo's take was judged another way: {card['n']} answered, {card['missed']} missed")
    run("history", code=1)


def is_administrator() -> bool:
    """Whether this process may write everywhere."""
    return os.name != "nt" and os.geteuid() == 0


def find_other_user(python: str, folder: Path) -> tuple[str | None, str]:
    """Return somebody else who can run a Python here, or nobody and the reason."""
    if not is_administrator():
        return None, "only the system's administrator can be somebody else"
    import pwd

    name = next((each.pw_name for each in pwd.getpwall() if each.pw_name == "nobody"), None)
    if name is None:
        return None, "there is no user called nobody"
    try:
        subprocess.run(
            [python, "-c", "import os; open(os.devnull, 'r+b').close()"],
            cwd=folder, user=name, group=_group_of(name), extra_groups=[], capture_output=True, text=True, check=True,
        )  # fmt: skip
    except OSError as error:
        return None, f"{error.filename}: {error.strerror}"
    except subprocess.CalledProcessError as error:
        return None, error.stderr.strip().splitlines()[-1]
    return name, ""


def _group_of(user: str) -> int:
    import pwd

    return pwd.getpwnam(user).pw_gid


def try_pythons(folder: Path) -> None:
    """Try each Python of this machine, with a wheel and an environment in folders that have spaces in their names."""
    folder.chmod(0o755)  # whoever else runs it goes through here
    built = folder / "a wheel, übung"
    command = [sys.executable, "-m", "hatchling", "build", "--target", "wheel", "--directory", str(built)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    (wheel,) = built.glob("*.whl")
    others = 0
    for version, python in find_pythons().items():
        begin = time.monotonic()
        there = folder / f"Python {version}"
        there.mkdir()
        user, reason = find_other_user(python, there)
        try_installed(python, wheel, there, user=user)
        others += user is not None
        whose = "by another user" if user else f"by who installed it (not by another user: {reason})"
        print(f"== Python {version}: installed and run {whose}, {time.monotonic() - begin:.0f} s", flush=True)
    if not others:
        print("== another user: skipped, for the reasons above", flush=True)


def run_with_floors(folder: Path) -> int:
    """Return the exit code of the tests in an environment whose dependencies are the oldest allowed.

    Tests of the modules that bring a dependency in, and of some ways through all of them; those that play sound take
    their real time and are left to the first half of the gate.
    """
    floors = folder / "floors.txt"
    floors.write_text("\n".join(find_floors()), encoding="utf-8")
    python = make_environment(folder / "floors")
    subprocess.run([str(python), "-m", "pip", *INSTALL, "-c", str(floors), f"{ROOT}[test]"], check=True)
    tests = [str(python), "-m", "pytest", "-q", *SIDE_BY_SIDE, "-m", "not played", "--hypothesis-profile=floors"]
    tests += find_users()
    return subprocess.run(tests, cwd=ROOT, check=False).returncode


def find_users() -> list[str]:
    """Return the files of tests whose module brings in a dependency, and those that go through many modules."""
    product = ROOT / "tempo_coach"
    using = [path for path in sorted(product.rglob("*.py")) if BRINGS_IN.search(path.read_text("utf-8"))]
    beside = [ROOT / "tests" / path.relative_to(product).with_name(f"test_{path.stem}") for path in using]
    own = [test for each in beside for test in sorted(each.parent.glob(f"{each.name}*.py"))]
    # what a real terminal does is the system's, and takes its real time
    some = [path for path in own if path.name != "test_terminal.py"] + [ROOT / "tests" / name for name in THROUGH_MANY]
    return [str(path.relative_to(ROOT)) for path in some]


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
        begin = time.monotonic()
        with ThreadPoolExecutor() as side_by_side:  # each waits for a pip of its own
            for python, taken in zip(
                PYTHONS, side_by_side.map(partial(resolve, folder=Path(folder)), PYTHONS), strict=True
            ):
                print(f"== packages for Python {python}: {taken}", flush=True)
        seconds["oldest and newest Python"] = time.monotonic() - begin
        if "--pythons" in sys.argv[1:]:
            begin = time.monotonic()
            try_pythons(Path(folder))
            seconds["every Python here"] = time.monotonic() - begin
        failed = 0
        if "--floors" in sys.argv[1:]:
            begin = time.monotonic()
            print("== tests with the oldest dependencies", flush=True)
            failed = run_with_floors(Path(folder))
            seconds["oldest dependencies"] = time.monotonic() - begin
    print("\nseconds by part: " + ", ".join(f"{name} {took:.1f}" for name, took in seconds.items()))
    print(f"installing: {sum(seconds.values()):.1f} s; " + ("FAILED" if failed else "everything holds"))
    return failed


if __name__ == "__main__":
    sys.exit(main())

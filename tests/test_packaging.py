"""What is built from here is all that a person needs, and nothing of how it is tested."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import sysconfig
import tarfile
import venv
import zipfile
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """The wheel and the source distribution, built with what is installed here: nothing is fetched."""
    folder = tmp_path_factory.mktemp("built in a folder with spaces, übung")
    command = [sys.executable, "-m", "hatchling", "build", "--directory", str(folder)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    (wheel,), (source,) = folder.glob("*.whl"), folder.glob("*.tar.gz")
    return wheel, source


@pytest.fixture(scope="module")
def program(built: tuple[Path, Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel's command in a fresh environment, which borrows only the dependencies of the running one."""
    folder = tmp_path_factory.mktemp("fresh, with spaces")
    venv.create(folder, with_pip=False)
    bin_folder = folder / ("Scripts" if os.name == "nt" else "bin")
    python = bin_folder / Path(sys.executable).name
    pip = [sys.executable, "-m", "pip", "--python", str(python), "install", "--quiet", "--no-deps", "--no-index"]
    subprocess.run([*pip, str(built[0])], check=True)
    # the dependencies are not built here, and fetching them again would take minutes
    into = Path(_ask(python, "import sysconfig; print(sysconfig.get_path('purelib'))"))
    lent = dict.fromkeys((sysconfig.get_path("purelib"), str(Path(np.__file__).parents[1])))
    (into / "borrowed.pth").write_text("\n".join([*lent, ""]), encoding="utf-8")
    assert Path(_ask(python, "import tempo_coach; print(tempo_coach.__file__)")).is_relative_to(folder)
    return bin_folder / "tempo-coach"


def _ask(python: Path, code: str) -> str:
    command = [str(python), "-c", code]
    return subprocess.run(command, cwd=python.parent, capture_output=True, text=True, check=True).stdout.strip()


def test_the_wheel_holds_the_program_its_sounds_and_drills_and_no_test(built: tuple[Path, Path]) -> None:
    with zipfile.ZipFile(built[0]) as wheel:
        names = set(wheel.namelist())
    tops = {name.split("/")[0] for name in names}
    assert {top for top in tops if not top.endswith(".dist-info")} == {"tempo_coach"}
    assert not [name for name in names if "test" in name or "bench" in name or "__pycache__" in name]
    for folder in ("sounds", "drills"):
        files = [path for path in (ROOT / folder).rglob("*") if path.suffix in (".wav", ".ogg", ".csv", ".toml")]
        assert len(files) > 3
        assert {f"tempo_coach/_shared/{path.relative_to(ROOT).as_posix()}" for path in files} <= names
    modules = {path.relative_to(ROOT).as_posix() for path in (ROOT / "tempo_coach").rglob("*.py")}
    training = {name for name in modules if name.startswith("tempo_coach/music/beats/training/")}
    assert len(training) > 10
    assert modules - training <= names
    assert not [name for name in names if "training" in name]
    languages = {path.parent.relative_to(ROOT).as_posix() for path in (ROOT / "tempo_coach/languages").glob("*/*.po")}
    assert {f"{language}/messages.mo" for language in languages} <= names and languages
    templates = {path.relative_to(ROOT).as_posix() for path in (ROOT / "tempo_coach/report/pages/templates").iterdir()}
    assert len(templates) > 5
    assert templates <= names


def test_nothing_of_the_program_imports_what_the_wheel_leaves_out() -> None:
    product = ROOT / "tempo_coach"
    using = [
        path
        for path in product.rglob("*.py")
        if "training" not in path.relative_to(product).parts
        and re.search(r"^\s*(from|import) .*\btraining\b", path.read_text(encoding="utf-8"), re.MULTILINE)
    ]
    assert using == []


def test_the_source_holds_what_the_gate_needs(built: tuple[Path, Path]) -> None:
    with tarfile.open(built[1]) as source:
        names = {name.split("/", 1)[1] for name in source.getnames()}
    assert {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", ".ci/run", "tests/__main__.py"} <= names
    assert {path.relative_to(ROOT).as_posix() for path in (ROOT / "tests").rglob("test_*.py")} <= names


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--version"], "tempo-coach "),
        (["--help"], "usage: tempo-coach"),
        (["drills"], "rope_figure_eight"),
        (["cue", "clubs_mills", "--cycles", "2", "--tempo", "100", "--out", "cues.wav"], ""),
        (["doctor"], "_shared"),
    ],
    ids=lambda words: words[0] if isinstance(words, list) else "",
)
def test_the_installed_program_runs_away_from_its_source(
    words: list[str], said: str, program: Path, tmp_path: Path
) -> None:
    environment = {**os.environ, "HOME": str(tmp_path)}
    environment.pop("PYTHONPATH", None)
    done = subprocess.run(
        [str(program), *words], cwd=tmp_path, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert said in done.stdout


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["drills"], 0, "rope_figure_eight"),
        (["cue", "clubs_mills", "--cycles", "2", "--tempo", "100", "--out", "cues.wav", "--plan", "plan.json"], 0, ""),
        (["doctor"], 0, "takes"),
        (["calibrate", "--show"], 0, "Nothing is calibrated yet"),
        (["history"], 1, "there is no history yet"),
        (["forget", "Ada", "--yes"], 1, "there is no history yet"),
    ],
    ids=lambda words: words[0] if isinstance(words, list) else "",
)
def test_where_the_home_cannot_be_written_what_needs_none_runs_and_the_rest_is_said(
    words: list[str], code: int, said: str, program: Path, tmp_path: Path
) -> None:
    """A home within a file: nobody can make it, the system's administrator neither."""
    (tmp_path / "file").write_text("", encoding="utf-8")
    mine = ("PYTHONPATH", "TEMPO_COACH_HISTORY", "XDG_DATA_HOME", "XDG_CACHE_HOME", "NUMBA_CACHE_DIR")
    environment = {name: value for name, value in os.environ.items() if name not in mine}
    environment |= dict.fromkeys(("HOME", "USERPROFILE", "APPDATA", "LOCALAPPDATA"), str(tmp_path / "file" / "home"))
    done = subprocess.run(
        [str(program), *words], cwd=tmp_path, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == code, done.stderr
    assert said in done.stdout + done.stderr and "Traceback" not in done.stderr

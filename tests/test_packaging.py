"""What is built from here is all that a person needs, and nothing of how it is tested."""

from __future__ import annotations

import os
import subprocess
import sys
import sysconfig
import tarfile
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """The wheel and the source distribution, built with what is installed here: nothing is fetched."""
    folder = tmp_path_factory.mktemp("built")
    command = [sys.executable, "-m", "hatchling", "build", "--directory", str(folder)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    (wheel,), (source,) = folder.glob("*.whl"), folder.glob("*.tar.gz")
    return wheel, source


@pytest.fixture(scope="module")
def program(built: tuple[Path, Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel's command in a fresh environment, which borrows only the dependencies of the running one."""
    folder = tmp_path_factory.mktemp("fresh")
    venv.create(folder, with_pip=False)
    bin_folder = folder / ("Scripts" if os.name == "nt" else "bin")
    python = bin_folder / Path(sys.executable).name
    pip = [sys.executable, "-m", "pip", "--python", str(python), "install", "--quiet", "--no-deps", "--no-index"]
    subprocess.run([*pip, str(built[0])], check=True)
    # the dependencies are not built here, and fetching them again would take minutes
    into = Path(_ask(python, "import sysconfig; print(sysconfig.get_path('purelib'))"))
    (into / "borrowed.pth").write_text(sysconfig.get_path("purelib") + "\n", encoding="utf-8")
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
    assert modules <= names


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

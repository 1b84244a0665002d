"""Where the history lies: the usual folder of each system, or the file that is named."""

from __future__ import annotations

import pytest
from platformdirs.macos import MacOS
from platformdirs.unix import Unix
from platformdirs.windows import Windows

from tempo_coach.history import data_folder as place
from tempo_coach.history.data_folder import data_folder, history_file


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    folder = tmp_path / "Zoë 🤸"
    for name in ("XDG_DATA_HOME", place.FILE_VARIABLE):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("HOME", str(folder))
    monkeypatch.setattr("platformdirs.windows.get_win_folder", lambda _: str(folder / "AppData" / "Local"))
    return folder


@pytest.mark.parametrize(
    ("system", "parts"),
    [
        (Unix, (".local", "share")),  # XDG Base Directory Specification 0.8
        (MacOS, ("Library", "Application Support")),
        (Windows, ("AppData", "Local")),
    ],
)
def test_each_system_has_its_usual_folder(home, monkeypatch, system, parts):
    monkeypatch.setattr("platformdirs.PlatformDirs", system)
    assert data_folder() == home.joinpath(*parts, "tempo_coach")
    assert history_file() == data_folder() / "history.sqlite"
    assert not home.exists()  # asking makes nothing


def test_the_system_may_name_another_folder_and_nothing_names_none(home, monkeypatch):
    usual = data_folder()
    monkeypatch.setenv("XDG_DATA_HOME", "")
    assert data_folder() == usual
    monkeypatch.setenv("XDG_DATA_HOME", str(home / "übung"))
    assert data_folder() == home / "übung" / "tempo_coach"


def test_a_file_that_is_named_is_the_history(home, monkeypatch):
    monkeypatch.setenv(place.FILE_VARIABLE, "")
    assert history_file() == data_folder() / place.FILE_NAME
    monkeypatch.setenv(place.FILE_VARIABLE, str(home / "李.db"))
    assert history_file() == home / "李.db"

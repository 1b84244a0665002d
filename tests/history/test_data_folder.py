"""Where the history lies: the usual folder of each system, or the file that is named."""

from __future__ import annotations

from pathlib import Path

import pytest

from tempo_coach.history import data_folder as place
from tempo_coach.history.data_folder import data_folder, history_file


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    folder = tmp_path / "Zoë 🤸"
    for name in ("XDG_DATA_HOME", "LOCALAPPDATA", place.FILE_VARIABLE):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(Path, "home", classmethod(lambda _: folder))
    return folder


@pytest.mark.parametrize(
    ("system", "parts"),
    [
        ("linux", (".local", "share")),  # XDG Base Directory Specification 0.8
        ("darwin", ("Library", "Application Support")),
        ("win32", ("AppData", "Local")),
    ],
)
def test_each_system_has_its_usual_folder(home, monkeypatch, system, parts):
    monkeypatch.setattr(place.sys, "platform", system)
    assert data_folder() == home.joinpath(*parts, "tempo_coach")
    assert history_file() == data_folder() / "history.sqlite"
    assert not home.exists()  # asking makes nothing


@pytest.mark.parametrize(("system", "name"), [("linux", "XDG_DATA_HOME"), ("win32", "LOCALAPPDATA")])
def test_the_system_may_name_another_folder_and_nothing_names_none(home, monkeypatch, system, name):
    monkeypatch.setattr(place.sys, "platform", system)
    usual = data_folder()
    monkeypatch.setenv(name, "")
    assert data_folder() == usual
    monkeypatch.setenv(name, str(home / "übung"))
    assert data_folder() == home / "übung" / "tempo_coach"


def test_a_file_that_is_named_is_the_history(home, monkeypatch):
    monkeypatch.setenv(place.FILE_VARIABLE, "")
    assert history_file() == data_folder() / place.FILE_NAME
    monkeypatch.setenv(place.FILE_VARIABLE, str(home / "李.db"))
    assert history_file() == home / "李.db"

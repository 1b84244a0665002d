"""Files: where they are on each system, read as text, known by their content, and written whole or not at all."""

import hashlib
import re

import pytest

from tempo_coach.errors import CoachError
from tempo_coach.resources import cache_folder, content_hash, find_shared, read_text, refuse_existing, written_whole


def test_sounds_and_drills_are_found():
    assert (find_shared("sounds") / "count.wav").is_file()
    assert (find_shared("drills") / "clubs_mills.toml").is_file()
    with pytest.raises(CoachError, match="install tempo_coach again"):
        find_shared("nothing")


def test_where_the_cache_cannot_be_a_folder_is_made_for_the_moment(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.setattr("sys.platform", "linux")
    assert cache_folder("x") == tmp_path / "tempo_coach" / "x"
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    assert cache_folder("x").parent == tmp_path and cache_folder("x").is_dir()


@pytest.mark.parametrize(
    ("system", "variable", "inside"),
    [
        ("win32", "LOCALAPPDATA", ""),
        ("win32", "", "AppData/Local"),
        ("darwin", "", "Library/Caches"),
        ("linux", "", ".cache"),
    ],
)
def test_the_cache_lies_where_each_system_keeps_such_things(tmp_path, monkeypatch, system, variable, inside):
    for name in ("LOCALAPPDATA", "XDG_CACHE_HOME"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr("pathlib.Path.home", lambda: tmp_path)
    monkeypatch.setattr("sys.platform", system)
    if variable:
        monkeypatch.setenv(variable, str(tmp_path))
    assert cache_folder("x") == tmp_path / inside / "tempo_coach" / "x"


def test_text_is_read_as_any_editor_writes_it_or_said_in_a_sentence(tmp_path):
    path = tmp_path / "x.csv"
    for mark in ("", "\ufeff"):  # some editors begin a file with a mark of its coding
        path.write_text(mark + "time,hand\nä\n", encoding="utf-8")
        assert read_text(path, what="a table") == "time,hand\nä\n"
    path.write_bytes(b"\xff\xfe\x00\x81")
    for file, found in ((path, "no text"), (tmp_path, "found a folder"), (tmp_path / "gone", "there is no such file")):
        with pytest.raises(CoachError, match=rf"{re.escape(str(file))}: expected a table, .*{found}; ask her\."):
            read_text(file, what="a table", hint="ask her")


def test_the_hash_is_the_contents(tmp_path):
    (tmp_path / "a").write_bytes(b"counts" * 100_000)
    assert content_hash(tmp_path / "a") == hashlib.sha256(b"counts" * 100_000).hexdigest()
    with pytest.raises(CoachError):
        content_hash(tmp_path / "b")


def test_a_file_that_is_there_is_replaced_only_when_told(tmp_path):
    path = tmp_path / "mine.txt"
    assert refuse_existing(path, force=False) == path
    path.write_text("mine")
    assert refuse_existing(str(path), force=True) == path
    for wrong, words in ((path, "exists and is not overwritten"), (tmp_path, "found a folder")):
        with pytest.raises(CoachError, match=words):
            refuse_existing(wrong, force=False)
    with pytest.raises(CoachError, match="no such folder; make the folder first"):
        refuse_existing(tmp_path / "none" / "mine.txt", force=True)


def test_a_file_is_written_whole_or_stays_as_it_was(tmp_path):
    path = tmp_path / "mine.txt"
    with written_whole(path) as beside:
        beside.write_text("all of it")
        assert not path.exists()
    assert path.read_text() == "all of it"

    def break_off():
        with written_whole(path) as beside:
            beside.write_text("half of")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        break_off()
    assert path.read_text() == "all of it"
    with (
        pytest.raises(CoachError, match="the routine cannot be written"),
        written_whole(tmp_path / "no" / "x", what="the routine") as beside,
    ):
        beside.write_text("")
    assert [each.name for each in tmp_path.iterdir()] == ["mine.txt"]

import re

import pytest

from tempo_coach.errors import CoachError, CoachErrors, nearest
from tempo_coach.resources import cache_folder, find_shared, read_text
from tempo_coach.times import ascending, column, whole


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


def test_an_error_says_where_what_and_what_next():
    assert str(CoachError("expected a, got b", where="x:1", hint="write a")) == "x:1: expected a, got b; write a."
    both = CoachErrors([CoachError("one"), CoachError("two?")])
    assert str(both) == "one.\ntwo?"
    with pytest.raises(ValueError, match="at least one"):
        CoachErrors([])
    assert nearest("rigth", ["left", "right"]) == "right"
    assert nearest("xyz", ["left", "right"]) is None


def test_columns_are_copied_checked_and_cannot_be_written_to():
    mine = [0.0, 1.0]
    times = ascending(mine, name="times")
    mine[0] = 5.0
    assert times[0] == 0
    with pytest.raises(ValueError, match="read-only"):
        times[0] = 1
    assert whole([1.0, 2.0], name="n").dtype.kind == "i"
    for make, words in [
        (lambda: ascending([1, 0], name="t"), "t: expected ascending order, got 0.0 after 1.0 at position 1"),
        (lambda: ascending([1, 1], name="t", strict=True), "ascending"),
        (lambda: column([[1]], name="t"), "one dimension"),
        (lambda: column([float("nan")], name="t"), "finite"),
        (lambda: column([float("inf")], name="t", allow_nan=True), "finite"),
        (lambda: whole([1.5], name="n"), "whole numbers"),
    ]:
        with pytest.raises(ValueError, match=words):
            make()

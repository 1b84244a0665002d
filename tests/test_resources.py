"""Files: where they are on each system, read as text, known by their content, and written whole or not at all."""

import contextlib
import hashlib
import os
import re
import socket
import stat
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from platformdirs.macos import MacOS
from platformdirs.unix import Unix
from platformdirs.windows import Windows

from tempo_coach.errors import CoachError
from tempo_coach.resources import (
    cache_folder,
    check_file,
    content_hash,
    find_shared,
    keeping_what_is_read,
    read_bytes,
    read_text,
    refuse_existing,
    scratch_folder,
    written_whole,
)
from tests.refused import refused

posix = pytest.mark.skipif(sys.platform == "win32", reason="pipes and devices are no files there")


def test_sounds_and_drills_are_found():
    assert (find_shared("sounds") / "count.wav").is_file()
    assert (find_shared("drills") / "clubs_mills.toml").is_file()
    with refused("install tempo_coach again"):
        find_shared("nothing")


def test_where_the_cache_cannot_be_a_folder_is_made_for_the_moment(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert cache_folder("x") == tmp_path / "tempo_coach" / "x"
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    assert cache_folder("x").parent == tmp_path and cache_folder("x").is_dir()


@pytest.mark.parametrize(
    ("system", "inside"), [(Windows, "AppData/Local"), (MacOS, "Library/Caches"), (Unix, ".cache")]
)
def test_the_cache_lies_where_each_system_keeps_such_things(tmp_path, monkeypatch, system, inside):
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setattr("platformdirs.windows.get_win_folder", lambda _: str(tmp_path / "AppData" / "Local"))
    monkeypatch.setattr("platformdirs.PlatformDirs", system)
    assert cache_folder("x") == tmp_path / inside / "tempo_coach" / "x"


def test_text_is_read_as_any_editor_writes_it_or_said_in_a_sentence(tmp_path):
    path = tmp_path / "x.csv"
    for mark in ("", "\ufeff"):  # some editors begin a file with a mark of its coding
        path.write_text(mark + "time,hand\nä\n", encoding="utf-8")
        assert read_text(path, what="readings") == "time,hand\nä\n"
    path.write_bytes(b"\xff\xfe\x00\x81")
    for file, found in ((path, "no text"), (tmp_path, "found a folder"), (tmp_path / "gone", "there is no such file")):
        with refused(rf"{re.escape(str(file))}: expected a table, .*{found}; expected a table with a header"):
            read_text(file, what="readings")


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
        with refused(words):
            refuse_existing(wrong, force=False)
    with refused("no such folder; make the folder first"):
        refuse_existing(tmp_path / "none" / "mine.txt", force=True)


def test_what_a_killed_program_left_beside_a_file_is_cleared_by_the_next(tmp_path):
    child = subprocess.Popen([sys.executable, "-c", ""])
    child.wait()
    left = {name: tmp_path / f".{name}" for name in (f"x.wav.{child.pid}.part", f"x.wav.{os.getppid()}.part")}
    others = [tmp_path / f".y.wav.{child.pid}.part", tmp_path / ".x.wav.mine.part"]
    new = tmp_path / f".x.wav.{child.pid}0000000.part"  # what a machine beside this one may be writing
    for path in (*left.values(), *others, new):
        path.write_text("half")
        if path != new:
            os.utime(path, (0, 0))
    with written_whole(tmp_path / "x.wav") as beside:
        beside.write_text("whole")
    dead, alive = left.values()
    assert not dead.exists()
    assert all(path.exists() for path in (alive, *others, new, tmp_path / "x.wav"))


def test_folders_of_killed_programs_are_cleared_with_what_lies_in_them(tmp_path):
    child = subprocess.Popen([sys.executable, "-c", ""])
    child.wait()
    dead, alive = (tmp_path / f"tempo_coach_scratch_{number}_x" for number in (child.pid, os.getppid()))
    for folder in (dead, alive):
        folder.mkdir()
        (folder / "history.sqlite").write_text("somebody's")
        os.utime(folder, (0, 0))
    with scratch_folder(tmp_path) as own:
        assert not dead.exists()
        assert (alive / "history.sqlite").exists()
        assert own.parent == tmp_path and own.is_dir()
    assert not own.exists()


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
        refused("the routine cannot be written"),
        written_whole(tmp_path / "no" / "x", what="routine") as beside,
    ):
        beside.write_text("")
    assert [each.name for each in tmp_path.iterdir()] == ["mine.txt"]


@posix
def test_what_may_never_end_is_not_read(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    ear = socket.socket(socket.AF_UNIX)
    with contextlib.closing(ear), contextlib.chdir(tmp_path):  # the name of a socket may have 107 letters
        ear.bind("socket")
    (tmp_path / "link").symlink_to("/dev/zero")
    found = {"pipe": "a pipe", "socket": "a socket", "link": "a device", ".": "a folder"}
    for name, kind in found.items():
        for read in (read_text, read_bytes, check_file):
            with refused(f"expected a table, found {kind}"):
                read(tmp_path / name, what="readings")
    with refused("found a pipe"):
        content_hash(tmp_path / "pipe")


def test_a_file_of_another_size_than_its_kind_has_is_not_read(tmp_path):
    (tmp_path / "a").write_bytes(bytes(2**20))
    assert len(read_bytes(tmp_path / "a", what="readings", most_mib=1)) == 2**20
    assert check_file(tmp_path / "a", what="readings") == 2**20
    with (tmp_path / "a").open("ab") as file:
        file.truncate(3 * 2**20)
    for read in (read_bytes, check_file):
        with refused("a table of up to 1 MiB, found 3 MiB"):
            read(tmp_path / "a", what="readings", most_mib=1)


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="files without a size are Linux's")
def test_a_file_that_says_it_is_empty_is_read_to_its_end_or_refused():
    assert b"Name:" in read_bytes("/proc/self/status", what="readings")
    with refused("found more"):
        read_bytes("/proc/self/status", what="readings", most_mib=1e-4)


@pytest.mark.parametrize("name", ["a\0b", "a\ud800b", "a" * 300])
def test_a_name_that_no_file_can_have_is_said(tmp_path, name):
    with refused(r"no file can have|cannot be read|no such file"):
        read_text(str(tmp_path / name), what="readings")
    with refused(r"no file can"):
        refuse_existing(str(tmp_path / name), force=True)


def test_what_was_read_is_not_written_over(tmp_path):
    path = tmp_path / "mine.txt"
    path.write_text("mine")
    (tmp_path / "again").hardlink_to(path)
    with keeping_what_is_read():
        assert refuse_existing(path, force=True) == path
        read_text(path, what="readings")
        for name in ("mine.txt", "again"):
            with refused("was read and is not written over"):
                refuse_existing(tmp_path / name, force=True)
    assert refuse_existing(path, force=True) == path


@posix
def test_a_link_is_followed_when_it_is_written_to(tmp_path):
    (tmp_path / "folder").mkdir()
    (tmp_path / "link").symlink_to("folder/file")
    assert refuse_existing(tmp_path / "link", force=False)
    for text in ("first", "second"):
        with written_whole(tmp_path / "link") as beside:
            beside.write_text(text)
        assert (tmp_path / "link").is_symlink()
        assert (tmp_path / "folder" / "file").read_text() == text
    with refused("exists"):
        refuse_existing(tmp_path / "link", force=False)
    (tmp_path / "round").symlink_to("round")
    with refused("no file can be written there"):
        refuse_existing(tmp_path / "round", force=True)


@posix
def test_what_only_she_may_read_stays_so_when_it_is_replaced(tmp_path):
    (tmp_path / "card").write_text("old")
    (tmp_path / "card").chmod(0o600)
    with written_whole(tmp_path / "card") as beside:
        beside.write_text("new")
    assert stat.S_IMODE((tmp_path / "card").stat().st_mode) == 0o600


@posix
def test_a_pipe_is_written_into_and_stays_one(tmp_path):
    path = tmp_path / "pipe"
    os.mkfifo(path)
    assert refuse_existing(path, force=False) == path
    with refused("cannot be written"), written_whole(path) as beside:
        beside.write_text("nobody reads this, and nobody waits")
    got = []
    reader = threading.Thread(target=lambda: got.append(path.read_text()))
    reader.start()
    for _ in range(1000):
        with contextlib.suppress(CoachError), written_whole(path) as beside:
            beside.write_text("all of it")
            break
    reader.join(20)
    assert got == ["all of it"]
    assert stat.S_ISFIFO(path.stat().st_mode)
    assert [each.name for each in tmp_path.iterdir()] == ["pipe"]


@posix
def test_a_device_is_written_into_and_never_replaced(tmp_path):
    (tmp_path / "link").symlink_to("/dev/full")
    for name in ("/dev/full", tmp_path / "link"):
        assert refuse_existing(name, force=False)
        with refused("No space left"), written_whole(tmp_path / name) as beside:
            beside.write_text("more than there is room for")
    assert stat.S_ISCHR(Path("/dev/full").stat().st_mode)
    with written_whole(tmp_path / "/dev/null") as beside:
        beside.write_text("gone")


@posix
def test_the_programs_own_output_is_written_on(tmp_path):
    code = (
        "from pathlib import Path; from tempo_coach.resources import *\n"
        "print('before')\n"
        "with written_whole(refuse_existing('/dev/stdout', force=False)) as beside: beside.write_text('whole\\n')\n"
        "print('behind')"
    )
    out = tmp_path / "out.txt"
    with out.open("w") as file:
        subprocess.run([sys.executable, "-c", code], stdout=file, check=True)
    assert out.read_text() == "before\nwhole\nbehind\n"
    piped = subprocess.run([sys.executable, "-c", code], stdout=subprocess.PIPE, check=True, text=True)
    assert piped.stdout == "before\nwhole\nbehind\n"


def test_a_long_name_leaves_room_for_that_of_the_unfinished_copy(tmp_path):
    path = tmp_path / ("ä" * 120 + ".txt")
    with written_whole(path) as beside:
        beside.write_text("all of it")
    assert path.read_text() == "all of it"

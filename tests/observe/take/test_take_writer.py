"""Writing a take while it runs: lines as promised, on the disk soon, and a sentence where that fails."""

import errno
import json
import math
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from tempo_coach.observe.take import take_writer
from tempo_coach.observe.take.take_file import ENDING
from tempo_coach.observe.take.take_writer import TAKE_VERSION, TO_DISK_EVERY, TakeWriter, end_line, lock
from tempo_coach.observe.take.unfinished import find_unfinished
from tempo_coach.pattern.plan.plan_file import plan_to_dict
from tempo_coach.report.words.live import why_unwritten
from tests import HANG
from tests.observe.written import PERFECT, PLAN, write_all, writer
from tests.refused import refused


def test_the_lines_hold_what_came_in_the_order_in_which_it_came(tmp_path: Path) -> None:
    path = tmp_path / "Zoë 🤸" / "übung 李"
    out = TakeWriter(path, PLAN, observed_by="voice", begun="2031-05-04", player="Gerät", extra={"note": "süß"})
    assert path.parent.is_dir() and out.failure is None
    out.onset("left", stamp=7.25)
    out.gap(1.0, 1.5)
    out.onset("right", stamp=8.0, time=2.5)
    out.finish([(0.25, "left"), (math.nan, "right")], how="enter", stopped=3.0, noise_floor_ms=1.5)
    head, *rest = [json.loads(line) for line in path.read_bytes().splitlines()]
    assert head == {
        "take": TAKE_VERSION,
        "begun": "2031-05-04",
        "observed_by": "voice",
        "player": "Gerät",
        "note": "süß",
        "plan": json.loads(json.dumps(plan_to_dict(PLAN))),
    }
    assert rest == [
        {"hand": "left", "stamp": 7.25, "time": None},
        {"gap": [1.0, 1.5]},
        {"hand": "right", "stamp": 8.0, "time": 2.5},
        {
            "end": "enter",
            "stopped": 3.0,
            "time": [0.25, None],
            "hand": ["left", "right"],
            "noise_floor_ms": 1.5,
            "unmeasurable": [],
        },
    ]
    assert "süß".encode() in path.read_bytes()
    assert path.stat().st_mode & 0o777 == 0o600  # names of children, perhaps


def test_the_line_that_ends_a_take_is_one_line_of_plain_values() -> None:
    line = end_line(((time, "left") for time in ()), how="broken off", unmeasurable=iter([(1, 2)]))  # type: ignore[arg-type]  # none
    assert line.endswith(b"}\n") and line.count(b"\n") == 1
    assert json.loads(line)["time"] == json.loads(line)["hand"] == []
    assert json.loads(line)["unmeasurable"] == [[1, 2]]
    with pytest.raises(ValueError, match="JSON"):
        end_line([(math.inf, "left")], how="passage")


def test_what_was_discarded_is_gone_and_closing_twice_does_no_harm(tmp_path: Path) -> None:
    out = writer(tmp_path / "a")
    out.onset("right", stamp=1.0)
    out.discard()
    assert list(tmp_path.iterdir()) == []
    out.close()
    out.discard()


def test_a_file_is_held_by_one_program_while_it_is_written(tmp_path: Path) -> None:
    out = writer(tmp_path / "a")
    with (tmp_path / "a").open("rb") as other:
        assert not lock(other.fileno())
        out.close()
        assert lock(other.fileno())


@pytest.mark.parametrize(
    ("code", "why"),
    [
        (errno.EDQUOT, "the disk is full"),
        (errno.EROFS, "the folder is read-only"),
        (errno.EACCES, "the folder is read-only"),
        (errno.EPERM, "the folder is read-only"),
        (errno.ENAMETOOLONG, os.strerror(errno.ENAMETOOLONG)),
    ],
)
def test_why_a_file_cannot_be_made_is_said_once_in_plain_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int, why: str
) -> None:
    def refuse(*_: object) -> int:
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(take_writer.os, "open", refuse)
    out = writer(tmp_path / "a")
    assert why_unwritten(out.failure) == why
    out.close()


@pytest.mark.parametrize(("code", "said"), [(errno.EINVAL, False), (errno.ENOTSUP, False), (errno.EIO, True)])
def test_a_disk_that_does_not_take_it_is_said_unless_there_is_nothing_to_bring(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int, said: bool
) -> None:
    def refuse(_: int) -> None:
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(take_writer.os, "fsync", refuse)
    out = writer(tmp_path / "a")
    out.close()
    assert (out.failure is not None) is said


def test_an_existing_file_is_never_touched(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("mine")
    out = write_all(tmp_path / "a")
    assert "exists" in why_unwritten(out.failure)
    out.discard()
    assert (tmp_path / "a").read_text() == "mine"


def test_a_full_disk_is_said_at_once_and_what_waits_is_written_when_there_is_room(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = writer(tmp_path / "a")
    real = os.write

    def full(file: int, data: bytes) -> int:
        if len(data) > 20:
            return real(file, data[:20])
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(take_writer.os, "write", full)
    out.onset("right", stamp=1.0, time=5.0)
    assert "disk is full" in why_unwritten(out.failure)
    monkeypatch.setattr(take_writer.os, "write", real)
    out.onset("left", stamp=2.0, time=5.5)
    assert out.failure is None
    out.close()
    assert [json.loads(line)["hand"] for line in (tmp_path / "a").read_text().splitlines()[1:]] == ["right", "left"]


def test_a_take_that_may_never_have_reached_the_disk_is_not_called_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = writer(tmp_path / "a")

    def refuse(_: int) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    with monkeypatch.context() as patch:
        patch.setattr(take_writer.os, "fsync", refuse)
        out.onset("right", stamp=1.0, time=5.0)
        wait_until(lambda: not out.whole)
    out.onset("left", stamp=2.0, time=5.5)  # is written, which says nothing of the one before
    assert not out.whole and out.failure is not None
    out.write_again()
    assert out.whole and out.failure is None
    assert [json.loads(line)["hand"] for line in (tmp_path / "a").read_text().splitlines()[1:]] == ["right", "left"]


def test_a_take_written_again_leaves_a_strangers_file_alone(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("mine")
    out = write_all(tmp_path / "a")
    assert not out.whole
    for path in (None, tmp_path / "a"):
        with refused("not overwritten"):
            out.write_again(path)
    out.write_again(tmp_path / "b")
    assert (tmp_path / "a").read_text() == "mine" and out.whole
    assert len((tmp_path / "b").read_bytes().splitlines()) == 1 + len(PERFECT)


def test_a_device_without_room_is_said_at_once() -> None:
    full = Path("/dev/full")
    if not full.exists():
        pytest.skip("this system has no device that is always full")
    out = TakeWriter.__new__(TakeWriter)
    out.path, out.failure, out._waiting = full, None, b""
    out._file = os.open(full, os.O_WRONLY)
    out._thread, out._lines, out._at_risk = None, [], False
    out._new, out._over = take_writer.threading.Event(), take_writer.threading.Event()
    out.onset("right", stamp=1.0, time=5.0)
    assert "disk is full" in why_unwritten(out.failure)
    out.close()


def wait_until(true: Callable[[], bool]) -> None:
    give_up = time.monotonic() + HANG
    while not true():
        assert time.monotonic() < give_up, "it never came to that"
        time.sleep(0.002)


def test_a_folder_that_cannot_be_written_is_said_at_once(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    out = writer(tmp_path / "file" / "a")
    assert out.failure is not None
    out.onset("right", stamp=1.0, time=1.0)
    out.finish([(1.0, "right")], how="enter")
    assert out.failure is not None


def test_a_killed_program_loses_no_onset_older_than_a_fifth_of_a_second(tmp_path: Path) -> None:
    path = tmp_path / f"a{ENDING}"
    script = (
        "import sys, time\n"
        "from tests.observe.written import writer, Path\n"
        "out = writer(Path(sys.argv[1]))\n"
        "k = 0\n"
        "while True:\n"
        "    out.onset('right', stamp=k, time=2.0 + k / 100); k += 1\n"
        "    print(k, flush=True); time.sleep(0.01)\n"
    )
    child = subprocess.Popen([sys.executable, "-c", script, str(path)], stdout=subprocess.PIPE, text=True)
    assert child.stdout is not None
    for _ in range(40):
        said = int(child.stdout.readline())
    assert find_unfinished(tmp_path) == ()  # it runs: nobody else may offer it
    os.kill(child.pid, signal.SIGKILL)
    said = max([said, *(int(line) for line in child.stdout.read().split())])
    child.wait()
    child.stdout.close()
    assert len(path.read_bytes().splitlines()) - 1 >= said
    assert find_unfinished(tmp_path) == (path,)


def test_lines_are_brought_to_the_disk_within_a_fifth_of_a_second(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is waited for between two times is less; how long the machine takes besides is not the writer's."""
    brought: list[int] = []
    waited: list[float] = []
    monkeypatch.setattr(take_writer.os, "fsync", lambda _: brought.append(lines()))

    def lines() -> int:
        return len((tmp_path / "a").read_bytes().splitlines())

    out = writer(tmp_path / "a")
    over = out._over.wait
    monkeypatch.setattr(out._over, "wait", lambda seconds=None: waited.append(seconds) or over(seconds))
    for k in range(5):
        out.onset("right", stamp=1.0, time=1.0)
        # the head and each onset so far: nobody has to end the take for it
        wait_until(lambda least=2 + k: bool(brought) and brought[-1] >= least)
    out.close()
    assert waited and max(waited) == TO_DISK_EVERY < 0.2

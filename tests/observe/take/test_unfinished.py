"""Takes that were broken off: found, each finished one looked into once, and what holds nothing is no bother."""

from __future__ import annotations

import json
import os
import time
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.observe.take import unfinished
from tempo_coach.observe.take.take_file import ENDING, read_take_file
from tempo_coach.observe.take.unfinished import FINISHED, YOUNG, find_unfinished, finish_broken_off
from tests.observe.written import PERFECT, write_all
from tests.refused import refused

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def looked_into(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The names of the files that are looked into."""
    names: list[str] = []
    real = unfinished._look_into

    def look(path: Path) -> object:
        names.append(path.name)
        return real(path)

    monkeypatch.setattr(unfinished, "_look_into", look)
    return names


def test_a_finished_take_is_not_offered(tmp_path: Path) -> None:
    write_all(tmp_path / f"b{ENDING}").finish(PERFECT, how="passage")
    write_all(tmp_path / f"a{ENDING}").close()
    write_all(tmp_path / f"c{ENDING}").close()
    assert find_unfinished(tmp_path) == (tmp_path / f"c{ENDING}", tmp_path / f"a{ENDING}")
    assert find_unfinished(tmp_path / "nowhere") == ()


def test_each_finished_take_is_looked_into_once(tmp_path: Path, looked_into: list[str]) -> None:
    for name in "abc":
        write_all(tmp_path / f"{name}{ENDING}").finish(PERFECT, how="passage")
    broken = write_all(tmp_path / f"d{ENDING}")
    broken.close()
    assert find_unfinished(tmp_path) == (broken.path,)
    assert sorted(looked_into) == [f"{name}{ENDING}" for name in "abcd"]
    looked_into.clear()
    write_all(tmp_path / f"e{ENDING}").finish(PERFECT, how="passage")
    (tmp_path / f"a{ENDING}").unlink()
    assert find_unfinished(tmp_path) == (broken.path,)
    assert sorted(looked_into) == [f"d{ENDING}", f"e{ENDING}"]
    assert f"a{ENDING}" not in (tmp_path / FINISHED).read_text()
    finish_broken_off(broken.path)
    assert find_unfinished(tmp_path) == ()


@pytest.mark.parametrize("kept", [b"\xff\xfe not text", b"", b"\n\n"])
def test_what_was_remembered_may_be_lost_or_damaged(tmp_path: Path, kept: bytes) -> None:
    write_all(tmp_path / f"a{ENDING}").finish(PERFECT, how="passage")
    write_all(tmp_path / f"b{ENDING}").close()
    (tmp_path / FINISHED).write_bytes(kept)
    assert find_unfinished(tmp_path) == (tmp_path / f"b{ENDING}",)
    (tmp_path / FINISHED).unlink(missing_ok=True)
    (tmp_path / FINISHED).mkdir()  # and cannot be written
    assert find_unfinished(tmp_path) == (tmp_path / f"b{ENDING}",)


@given(onsets=st.integers(0, 400), end=st.sampled_from([b"", b"\n", b"\n\n", b'\n{"hand": "rig']))
def test_an_end_is_found_however_long_its_line_is(
    tmp_path_factory: pytest.TempPathFactory, onsets: int, end: bytes
) -> None:
    folder = tmp_path_factory.mktemp("takes")
    path = folder / f"a{ENDING}"
    out = write_all(path)
    out.finish([(k / 7, "right") for k in range(onsets)], how="passage")
    path.write_bytes(path.read_bytes().rstrip(b"\n") + end)
    cut = end.startswith(b"\n{")
    assert find_unfinished(folder) == ((path,) if cut else ())


def test_a_file_in_which_nothing_stands_is_cleared_unless_it_was_just_made(tmp_path: Path) -> None:
    old, new = tmp_path / f"old{ENDING}", tmp_path / f"new{ENDING}"
    old.write_bytes(b"")
    new.write_bytes(b"")
    before = time.time() - 2 * YOUNG
    os.utime(old, (before, before))
    assert find_unfinished(tmp_path) == ()
    assert not old.exists() and new.exists()


def test_one_that_a_program_holds_is_not_cleared_however_old(tmp_path: Path) -> None:
    path = tmp_path / f"a{ENDING}"
    path.write_bytes(b"")
    before = time.time() - 2 * YOUNG
    os.utime(path, (before, before))
    holds = os.open(path, os.O_RDWR)
    assert unfinished.lock(holds)
    assert find_unfinished(tmp_path) == () and path.exists()
    os.close(holds)


def test_a_take_cut_off_before_its_plan_was_whole_is_told_of_once(tmp_path: Path) -> None:
    path = tmp_path / f"a{ENDING}"
    path.write_bytes(b'{"take": 1, "begun": "2031-05-04T18:15:02", "observed_by": "ta')
    assert find_unfinished(tmp_path) == (path,)
    with refused(r"nothing of the take can be read.*\.cut now"):
        finish_broken_off(path)
    assert find_unfinished(tmp_path) == ()
    assert len(list(tmp_path.iterdir())) == 1  # it is there, under another name


def test_one_that_is_put_by_is_a_take_that_was_broken_off(tmp_path: Path) -> None:
    path = tmp_path / f"a{ENDING}"
    write_all(path).close()
    assert len(finish_broken_off(path).take.onsets) == len(PERFECT)
    assert read_take_file(path).ended == "broken off"
    assert json.loads(path.read_bytes().splitlines()[-1])["end"] == "broken off"


def test_what_is_no_ordinary_file_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / f"folder{ENDING}").mkdir()
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / f"pipe{ENDING}")
    with (tmp_path / f"endless{ENDING}").open("wb") as file:
        file.truncate(1 << 36)
    assert find_unfinished(tmp_path) == ()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no named pipes here")
def test_a_pipe_among_the_takes_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / f"a{ENDING}")
    write_all(tmp_path / f"b{ENDING}").close()
    assert [path.name for path in find_unfinished(tmp_path)] == [f"b{ENDING}"]

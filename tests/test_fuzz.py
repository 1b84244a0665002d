"""Whatever is in a file, its reader returns or says one sentence: never a traceback, never a hang.

Files are damaged on purpose: bytes changed, cut out, doubled and put in, starting from a whole file of each kind. The
longer search for what still breaks them is among the benchmarks.
"""

from __future__ import annotations

import os
import signal
import sys
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.generators.whole_files import KINDS, damage, read_or_say, whole

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

#: Those that a decoder or a database reads take a hundred times as long as a table.
SLOW = {"film", "history"}
FAST = [kind for kind in KINDS if kind not in SLOW]

pieces = st.one_of(
    st.binary(max_size=8),
    st.sampled_from(
        [b"\x00", b"\xff\xfe", b"1e999", b"-1", b"nan", b"[]", b"{}", b'"', b"\n", b";", b"9" * 400, b"=", b"["]
    ),
)
damages = st.lists(st.tuples(st.floats(0, 1), st.integers(0, 40), pieces), min_size=1, max_size=6)


@pytest.fixture(params=FAST)
def kind(request: pytest.FixtureRequest) -> str:
    return request.param


def check(kind: str, content: bytes, folder: Path) -> None:
    path = folder / f"x{KINDS[kind].ending}"
    path.write_bytes(content)
    assert len(read_or_say(KINDS[kind].read, path)) < 8000


@settings(max_examples=100, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(changes=damages)
def test_a_damaged_file_is_read_or_said_in_a_sentence(kind: str, changes: list, tmp_path: Path) -> None:
    check(kind, damage(whole(kind), changes), tmp_path)


@pytest.mark.parametrize("slow", sorted(SLOW))
@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(changes=damages)
def test_a_damaged_file_of_many_parts_is_read_or_said_in_a_sentence(slow: str, changes: list, tmp_path: Path) -> None:
    check(slow, damage(whole(slow), changes), tmp_path)


@given(content=st.binary(max_size=300))
@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_bytes_are_read_or_said_in_a_sentence(kind: str, content: bytes, tmp_path: Path) -> None:
    check(kind, content, tmp_path)


def test_the_whole_file_is_read(tmp_path: Path) -> None:
    for each, kind in KINDS.items():
        path = tmp_path / f"x{kind.ending}"
        path.write_bytes(whole(each))
        kind.read(path)


@pytest.fixture
def patience() -> Iterator[None]:
    """A minute, after which whatever waits for something that never comes is broken off."""

    def give_up(*_: object) -> None:
        raise AssertionError("it waits without end")

    before = signal.signal(signal.SIGALRM, give_up)
    signal.alarm(60)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


@pytest.mark.skipif(sys.platform == "win32", reason="pipes and devices are no files there")
@pytest.mark.usefixtures("patience")
@pytest.mark.parametrize(("make", "found"), [("pipe", "found a pipe"), ("device", "found a device")])
def test_what_is_no_regular_file_is_refused_by_every_reader(make: str, found: str, tmp_path: Path) -> None:
    for each, kind in KINDS.items():
        path = tmp_path / f"{make}_{each}{kind.ending}"
        if make == "pipe":
            os.mkfifo(path)
        else:
            path.symlink_to("/dev/full")  # whose reading never ends either
        assert found in read_or_say(kind.read, path), each

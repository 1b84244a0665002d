"""Whatever is in a file, its reader returns or says one sentence: never a traceback, never a hang.

Files are damaged on purpose: bytes changed, cut out, doubled and put in, starting from a whole file of each kind. The
longer search for what still breaks them is among the benchmarks.
"""

from __future__ import annotations

import json
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tempo_coach import coach
from tempo_coach.errors import CoachError
from tempo_coach.music.exchange import beats_to_text
from tempo_coach.observe.onsets import read_onsets
from tempo_coach.observe.tables import read_trace
from tempo_coach.observe.takefile import read_take
from tempo_coach.observe.takewriter import TakeWriter
from tempo_coach.pattern.files import find_drill, read_drill
from tempo_coach.pattern.moves import read_moves
from tempo_coach.pattern.planfile import plan_to_dict, read_plan

if TYPE_CHECKING:
    from collections.abc import Callable

PLAN = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=3))


def whole_take() -> bytes:
    """The bytes of a take that practise wrote."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "x.take.jsonl"
        writer = TakeWriter(path, PLAN, observed_by="tap", begun="2031-05-04T18:15:02", player="silent clock")
        for time, hand in zip(PLAN.moments.time, PLAN.moments.hand, strict=True):
            writer.onset(hand, stamp=float(time) + 100, time=float(time))
        writer.gap(6.0, 6.5)
        writer.close()
        return path.read_bytes()


TAKE = whole_take()
TRACE = b"time_s;x_mm;y_mm\n" + b"".join(
    f"{t:.3f};{100 * np.cos(9 * t):.1f};{100 * np.sin(9 * t):.1f}\n".encode() for t in np.arange(0, 2, 0.02)
)
ONSETS = b"time,hand\n5.4,right\n6.0,left\n6.6,right\n"

READERS: dict[str, tuple[bytes, Callable[[Path], object]]] = {
    "onsets": (ONSETS, lambda path: read_onsets(path, hands=("right", "left"))),
    "drill": (find_drill("rope_figure_eight").read_bytes(), read_drill),
    "plan": (json.dumps(plan_to_dict(PLAN)).encode(), read_plan),
    "take": (TAKE, read_take),
    "trace": (TRACE, read_trace),
    "moves": (b'[[move]]\nname = "roll"\ncounts = 2\n', read_moves),
}

pieces = st.one_of(
    st.binary(max_size=8),
    st.sampled_from(
        [b"\x00", b"\xff\xfe", b"1e999", b"-1", b"nan", b"[]", b"{}", b'"', b"\n", b";", b"9" * 400, b"=", b"["]
    ),
)


@st.composite
def damages(draw: st.DrawFn) -> list[tuple[float, int, bytes]]:
    """Where in the file (0 to 1), how many bytes go, and what comes in their place."""
    number = draw(st.integers(1, 6))
    return [(draw(st.floats(0, 1)), draw(st.integers(0, 40)), draw(pieces)) for _ in range(number)]


def damage(whole: bytes, changes: list[tuple[float, int, bytes]]) -> bytes:
    for where, length, new in changes:
        start = int(where * len(whole))
        whole = whole[:start] + new + whole[start + length :]
    return whole


def read_or_say(read: Callable[[Path], object], path: Path) -> str:
    """Return what the reader said, which names the file; empty where it read it. Anything else it raises is a bug."""
    try:
        read(path)
    except CoachError as error:
        if not str(error).startswith(str(path)):
            raise AssertionError(f"the file is not named: {error}") from error
        return str(error)
    return ""


@pytest.mark.parametrize("kind", READERS)
@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(changes=damages())
def test_a_damaged_file_is_read_or_said_in_a_sentence(kind: str, changes: list, tmp_path: Path) -> None:
    whole, read = READERS[kind]
    path = tmp_path / f"{kind}.toml"
    path.write_bytes(damage(whole, changes))
    said = read_or_say(read, path)
    assert len(said) < 8000


@pytest.mark.parametrize("kind", READERS)
@given(content=st.binary(max_size=300))
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_bytes_are_read_or_said_in_a_sentence(kind: str, content: bytes, tmp_path: Path) -> None:
    path = tmp_path / f"{kind}.toml"
    path.write_bytes(content)
    read_or_say(READERS[kind][1], path)


@pytest.mark.parametrize("kind", READERS)
def test_the_whole_file_is_read(kind: str, tmp_path: Path) -> None:
    path = tmp_path / f"{kind}.toml"
    path.write_bytes(READERS[kind][0])
    READERS[kind][1](path)


def test_beats_are_written_in_a_form_that_is_read_back() -> None:
    text = beats_to_text(np.array([0.5, 1.0]), np.array([1, 2]))
    assert [line.split("\t") for line in text.splitlines()] == [["0.500000", "1"], ["1.000000", "2"]]

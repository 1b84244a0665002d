"""Tables that are none: a sentence each, no traceback, no silence; and large ones, refused or read within bounds."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.errors import CoachError
from tempo_coach.observe.member_rows import read_members
from tempo_coach.observe.take.onsets import read_onsets
from tempo_coach.observe.trace.header import is_trace
from tempo_coach.observe.trace.tables import parse_trace, read_trace
from tempo_coach.observe.trace.trace import Trace
from tempo_coach.report.words.errors import say_error
from tempo_coach.report.words.reasons import say_reason
from tests.refused import refused

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

KINDS = 50
_PIECES = [
    "time",
    "x",
    "acc_x",
    "ay_g",
    "Zeit",
    ";",
    ",",
    "\t",
    "\n",
    "\n\n",
    '"',
    "'",
    "#",
    "%",
    "1",
    "-3.5",
    "2,5",
    "1e300",
]
_PIECES += [
    "nan",
    "inf",
    "-",
    "1970-01-01",
    "12:00",
    "é",
    "\x85",
    "\u2028",
    "\x00",
    "|",
    "sensor",
    "x 2",
    "(",
    "m/s²)",
    " ",
]


def garbage(seed: int) -> bytes:
    """Return what stands in a broken file: noise, pieces of tables in any order, or a good table gone wrong."""
    rng = np.random.default_rng(seed)
    kind = seed % 5
    if kind == 0:
        return rng.integers(0, 256, 2000, dtype=np.uint8).tobytes()
    if kind == 1:
        return "".join(rng.choice(_PIECES, 400)).encode()
    time = np.arange(60) / 50
    rows = [f"{t:.3f},{np.sin(9 * t):.4f},{np.cos(9 * t):.4f},a" for t in time]
    header = "time,x_m,y_m,sensor"
    if kind == 2:
        for at in rng.integers(0, 60, 20):
            cut = rng.integers(0, len(rows[at]) + 1)
            rows[at] = rows[at][:cut] + rng.choice(_PIECES) + rows[at][cut:]
    elif kind == 3:
        rng.shuffle(rows)
        header = ",".join(rng.permutation(header.split(",")))
    else:
        whole = bytearray("\n".join([header, *rows]).encode(rng.choice(["utf-8", "utf-16", "cp1252"])))
        for at in rng.integers(0, len(whole), 30):
            whole[at] = rng.integers(0, 256)
        return bytes(whole)
    return "\n".join([header, *rows]).encode()


@pytest.mark.parametrize("seed", range(KINDS))
def test_garbage_is_read_or_refused_in_one_sentence(seed: int, tmp_path: Path) -> None:
    path = tmp_path / "x.csv"
    path.write_bytes(garbage(seed))
    readers: list[Callable[[], object]] = [
        lambda: read_trace(path),
        lambda: read_onsets(path, hands=("right", "left")),
        lambda: read_members(path),
    ]
    assert isinstance(is_trace(path), bool)
    for told in map(say, readers):
        assert told
        assert "\n" not in told


def say(read: Callable[[], object]) -> str:
    """Return the refusal, or the first thing that was understood."""
    try:
        found = read()
    except CoachError as error:
        return say_error(error)
    return say_reason(found.notes[0]) if isinstance(found, Trace) else type(found).__name__


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("time,x_m,y_m\n" + "nan,nan,nan\n" * 30, "no rows of numbers"),
        ("time,x_m,y_m\n" + "0.1,nan,nan\n" * 30, "stand still"),
        ("time,x_m,y_m\n" + "".join(f"{k},nan,nan\n" for k in range(30)), "nothing in it changes"),
        ("time,x_m,y_m\n" + "here,there,where\n" * 30, "no rows of numbers"),
        ("only words in it\n" * 30, "no rows of numbers"),
        ("time,x_m\n" + "".join(f"{30 - k},{k % 7}\n" for k in range(30)), "stamps that never do"),
        ("time,sensor\n" + "".join(f"{k},{'ab'[k % 2]}\n" for k in range(30)), "no readings beside"),
        (",".join(f"c{k}" for k in range(10_000)) + "\n" + ("1," * 9_999 + "1\n") * 3, "columns, found 10,000"),
    ],
)
def test_what_holds_no_readings_is_refused(text: str, said: str) -> None:
    with refused(said):
        parse_trace(text)


def test_a_cell_gone_wrong_costs_one_reading() -> None:
    rows = [f"{k / 50},{k % 7},{k % 5}" for k in range(200)]
    rows[100] = "2.0,#err,1"
    rows[150] = "3.0,1"
    trace = parse_trace("\n".join(["time,x_m,y_m", *rows]))
    assert np.flatnonzero(np.isnan(trace.values).any(axis=1)).tolist() == [100, 150]

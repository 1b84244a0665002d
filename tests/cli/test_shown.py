"""What commands print, in whatever encoding and whatever the files and options hold: shown, never obeyed."""

from __future__ import annotations

import contextlib
import io
import json
import re
import sys
from typing import TYPE_CHECKING

import pytest

from tempo_coach.cli import main
from tests.generators.movement import rope

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    Run = Callable[..., tuple[int, str, str]]

#: Turns the rest of a terminal red, wipes it, names its window, and goes back to the begin of the line.
EVIL = "\x1b[31mX\x1b[2J\x1b]0;mine\x07\r\x9b1A\u202e"
OBEYED = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\ud800-\udfff]")
DRILL = """\
title = {title}
apparatus = "clubs"
caution = {title}
[cycle]
counts = 4
[[hand]]
name = {hand}
[[hand.moment]]
at = "1"
label = {title}
[[hand.moment]]
at = "3"
label = "low"
"""


class Stream(io.TextIOWrapper):
    """An output of an encoding that is read afterwards, strict as a redirected one is."""

    def __init__(self, encoding: str) -> None:
        super().__init__(io.BytesIO(), encoding=encoding, errors="strict", newline="\n")

    def text(self) -> str:
        self.flush()
        return self.buffer.getvalue().decode(self.encoding)  # type: ignore[attr-defined]


ENCODINGS = pytest.mark.parametrize("encoding", ["cp1252", "cp437", "latin-1", "ascii"])


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch) -> Callable[..., tuple[int, str, str]]:
    """Run a command with outputs of an encoding: its code, and what stands in both."""

    def run(encoding: str, *words: str) -> tuple[int, str, str]:
        out, err = Stream(encoding), Stream(encoding)
        with monkeypatch.context() as patch:
            patch.setattr(sys, "stdout", out)
            patch.setattr(sys, "stderr", err)
            code = main(words)
        return code, out.text(), err.text()

    return run


@pytest.fixture
def wrist(tmp_path: Path) -> str:
    trace = rope(3).trace
    rows = "".join(f"{t:.4f},{x:.5f},{y:.5f}\n" for t, (x, y) in zip(trace.time, trace.values, strict=True))
    path = tmp_path / "wrist.csv"
    path.write_text(f"time_s,x_m,y_m\n{rows}")
    return str(path)


@ENCODINGS
def test_an_output_without_the_signs_gets_plain_ones(encoding: str, run: Run, wrist: str) -> None:
    for words in (
        ["drills", "show", "clubs_mills"],
        ["toss", "--counts", "4", "--tempo", "120"],
        ["trace", wrist, "--picture"],
        ["drills", "--table"],
    ):
        code, out, _ = run(encoding, *words)
        assert code == 0 and len(out) > 500
    code, _, err = run(encoding, "listen", "… no such 舞.wav")
    assert code == 1 and "no such ??.wav" in err


@ENCODINGS
def test_numbers_for_programs_lose_no_letter(encoding: str, run: Run, tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    title = "Zoë 舞 \x9b \u202e"
    path.write_text(DRILL.format(title=json.dumps(title), hand='"left"'))
    code, out, _ = run(encoding, "drills", "show", str(path), "--json")
    assert code == 0 and not OBEYED.search(out)
    assert json.loads(out)["title"] == title


def commands(folder: Path) -> Iterator[list[str]]:
    """Whatever a file or an option brings to an output."""
    title, hand = json.dumps(EVIL), json.dumps(EVIL)
    own = folder / "own.toml"
    own.write_text(DRILL.format(title=title, hand=hand))
    cued = ["--tempo", "100", "--cycles", "4"]
    yield ["drills", "show", str(own)]
    yield ["cue", str(own), *cued, "--plan", str(folder / "plan.json")]
    onsets = folder / "onsets.csv"
    onsets.write_text("time,hand\n" + "".join(f"{4.8 + 1.2 * k:.2f},{EVIL!r}\n" for k in range(8)))
    yield ["score", str(onsets), "--plan", str(folder / "plan.json")]
    onsets.write_text("time\n" + "".join(f"{4.8 + 1.2 * k:.2f}\n" for k in range(8)))
    yield ["score", str(onsets), "--plan", str(folder / "plan.json"), "--note", EVIL, "--keep", "Ada"]
    yield ["history", "--show", "1"]
    yield ["history"]
    yield ["history", "--trend"]
    yield ["report", "1", "--out", str(folder / "take.html")]
    table = folder / "table.csv"
    table.write_text(f"time_s,x{EVIL}_m\n" + "".join(f"{k / 50},{k % 50}\n" for k in range(500)), encoding="utf-8")
    yield ["trace", str(table)]
    yield ["trace", str(table), "--picture", "--svg", str(folder / "trace.svg")]
    members, name = folder / "members.csv", EVIL.replace("\r", "")  # where a line ends
    long = "invented " * 30  # a file of which much is controls is taken for no text
    both = ((f"A{name}", 0.01), ("Bea", -0.01))
    rows = "".join(f"{k / 2 + late},{who},{long}\n" for k in range(24) for who, late in both)
    members.write_bytes(f"time,member,remark\n{rows}".encode())
    yield ["group", str(members), "--tempo", "120"]
    yield ["report", str(members), "--group", "--tempo", "120", "--title", EVIL, "--out", str(folder / "g.html")]
    yield from (
        ["drills", "show", EVIL],
        ["listen", EVIL],
        ["history", "--drill", EVIL],
        ["cue", "clubs_mills", "--tempo", EVIL],
        ["cue", "clubs_mills", "--hand", EVIL, "--json"],
        ["toss", "--apparatus", EVIL, "--counts", "4", "--tempo", "100"],
        ["trace", str(table), "--columns", EVIL],
        ["group", str(members), "--place", EVIL],
        ["forget", EVIL],
        [EVIL],
        ["doctor", EVIL],
        ["doctor", f"--{EVIL}"],
    )


def test_nothing_that_a_file_or_an_option_brings_is_obeyed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("TEMPO_COACH_HISTORY", str(tmp_path / "history.sqlite"))
    seen = ""
    for words in commands(tmp_path):
        with contextlib.suppress(SystemExit):
            main(words)
        caught = capfd.readouterr()
        assert "Traceback" not in caught.err
        assert not OBEYED.search(caught.out + caught.err), (words, caught)
        seen += caught.out
    assert "␛[31mX␛[2J" in seen
    for page in tmp_path.glob("*.[hs][tv][mg]*"):
        text = page.read_text(encoding="utf-8")
        assert not OBEYED.search(text), page
    assert len(list(tmp_path.glob("*.html"))) == 2

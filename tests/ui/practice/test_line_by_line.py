"""The practice and its set-up line by line: what is said, what is not, and that nothing of it is a drawing."""

from __future__ import annotations

import json
import re
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.cli import main
from tempo_coach.coach.practising.form import make_form
from tempo_coach.live.notices import Notice, Trouble
from tempo_coach.live.practice.session import Way
from tempo_coach.pattern.plan.plan_file import plan_to_dict
from tempo_coach.report.drawings.plain import plain_text
from tempo_coach.report.words.live import say_notice
from tempo_coach.ui.practice.line_by_line import Stamped, ask_form, name_keys, practise_in_lines
from tests.generators import movement
from tests.ui import fakes, snapshots
from tests.ui.fakes import lay
from tests.ui.test_screens import DRILLS
from tests.ui.test_terminal import Terminal

if TYPE_CHECKING:
    from pathlib import Path

#: Box drawing, blocks and braille: what a screen reader spells out sign by sign.
DRAWN = re.compile("[─-◿⠀-⣿]|[·.~]{4,}|  [|]  ")


class Hands:
    """Presses keys at their times; while they are waited for, the clock goes on."""

    def __init__(self, stage: fakes.Stage, *pressed: tuple[float, str]) -> None:
        self.clock = stage.clock
        self.begin = stage.clock.now
        self.pressed = list(pressed)

    def __call__(self, seconds: float) -> list[Stamped]:
        self.clock.now += seconds
        keys = []
        while self.pressed and self.begin + self.pressed[0][0] <= self.clock.now:
            at, key = self.pressed.pop(0)
            keys.append(Stamped(key, self.begin + at))
        return keys


def practise(stage: fakes.Stage, *pressed: tuple[float, str]) -> list[str]:
    said: list[str] = []
    practise_in_lines(stage.context, Hands(stage, *pressed), said.append, clock=stage.clock)
    assert stage.player.closed or not stage.player.starts
    return said


def test_a_take_from_the_keys_to_the_scorecard_and_silence_while_it_runs(tmp_path: Path) -> None:
    stage = fakes.Stage(
        lay("rope_figure_eight", tempo_bpm=120, cycles=10),
        folder=tmp_path,
        options={"caution": "keep clear space all round you"},
    )
    begin = 0.5
    taps = [(begin + float(time) + 0.03, "x") for time in stage.plan.moments.time]
    end = begin + stage.plan.duration + 3
    said = practise(stage, (0.1, "x"), (begin - 0.02, "enter"), *taps, (end, "ctrl+q"))
    starts = next(k for k, line in enumerate(said) if "Enter ends the take" in line)
    assert said[: starts + 1] == [
        "Rope: figure eight, as taught. Ctrl+Q leaves at any time; what was tapped is kept.",
        "Mind: keep clear space all round you.",
        "Press the key for right, or Enter for the usual one, J.",
        "right X.",
        "Enter starts.",
        "The lead-in, then 10 cycles at 120 a minute. Enter ends the take.",
    ]
    assert said[starts + 1].startswith("Rope: figure eight")  # the scorecard comes next: nothing was said in between
    assert any("30 of 30 moments answered" in line for line in said)
    assert said[-1] == "Enter: again. Ctrl+Q: leave."
    assert said[-2] == f"Kept in {tmp_path / '1.take.jsonl'}."
    assert not [line for line in said if DRAWN.search(line)]


@pytest.mark.parametrize("end", [1.0, 1.4], ids=["in the lead-in", "later in it"])
def test_a_take_that_ends_in_the_lead_in_is_told_with_one_voice(end: float) -> None:
    stage = fakes.Stage(lay("rope_figure_eight", tempo_bpm=60, cycles=8))
    said = practise(stage, (0.1, "enter"), (end, "enter"), (3.0, "ctrl+q"))
    start = next(k for k, line in enumerate(said) if "Enter ends the take" in line)
    told = said[start + 1 : -2]
    assert told == [
        "Too few onsets to tell how steady it was.",
        "It ended before the first cycle was over: nothing to tell yet.",
    ]


def test_a_take_without_a_tap_says_which_keys_to_press() -> None:
    stage = fakes.Stage(lay("rope_figure_eight", tempo_bpm=120, cycles=4))
    said = practise(stage, (0.1, "enter"), (0.5 + stage.plan.duration + 2, "ctrl+q"))
    assert "No key was pressed while the take ran." in said
    assert not [line for line in said if "moments answered" in line]


def test_two_hands_a_walk_in_and_a_rest_are_told(tmp_path: Path) -> None:
    stage = fakes.Stage(lay("clubs_mills", tempo_bpm=200, cycles=8), options={"way": Way(ready=5, takes=2, rest=4)})
    said = practise(stage, (0.1, "enter"), (6.0 + stage.plan.duration + 2, "ctrl+q"))
    assert said[1:4] == [
        "Press the key for right, or Enter for the usual one, J.",
        "Walk in: 5 seconds, counted aloud.",
        "The lead-in, then 8 cycles at 200 a minute. Enter ends the take.",
    ]
    assert "The next take comes in 4 seconds. Enter: stay here." in said


def test_a_break_in_the_sound_is_said_within_the_take() -> None:
    stage = fakes.Stage(lay("clubs_mills"), options={"keys": "jf", "at_once": True})
    hands = Hands(stage, (6.0, "ctrl+q"))

    def wait(seconds: float) -> list[Stamped]:
        if stage.clock.now > hands.begin + 3 and stage.player.state.name == "PLAYING":
            stage.player.break_off(Notice(Trouble.LOST))
        return hands(seconds)

    said: list[str] = []
    practise_in_lines(stage.context, wait, said.append, clock=stage.clock)
    assert said[-2:] == ["The take is paused.", say_notice(Trouble.LOST)]


def test_the_set_up_is_asked_line_by_line() -> None:
    asked, said = [], []
    answers = {
        "drill": ["?", "figure"],
        "tempo": ["1000", "96,5"],
        "hands": ["backwards", "mir"],
        "whose take": ["Ada"],
        "walk-in": ["10"],
        "sound": ["none"],
        "cues": ["fewer"],
    }

    def ask(question: str) -> str:
        asked.append(question)
        left = answers.get(question.split(", now", maxsplit=1)[0])
        return left.pop(0) if left else ""

    titles = {"rope_figure_eight": "Rope: figure eight", "clubs_mills": "Clubs: mills"}
    form = ask_form(make_form(DRILLS).with_labels("drill", titles), ask, said.append)
    request = form.request()
    assert (request.drill, request.tempo_bpm, request.mirrored) == ("rope_figure_eight", 96.5, True)
    assert (request.cues, form.athlete, form.value("device")) == ("thinning", "Ada", "none")
    assert form.line("ready").number == 10
    assert "Rope: figure eight, Clubs: mills." in said
    assert any("expected 20 to 400, got 1000" in line for line in said)
    assert any("expected one of as taught, mirrored, got backwards" in line for line in said)
    assert asked[:2] == ["whose take, now me: ", "drill, now Clubs: mills: "]
    assert len([question for question in asked if question.startswith("tempo, ")]) == 2


def test_keys_that_send_more_than_one_sign_are_no_keys_of_a_hand() -> None:
    assert [key for key, _ in name_keys("j fé\x7f\x11", 1.0)] == ["j", "space", "f", "é", "backspace", "ctrl+q"]
    assert name_keys("\x1b[B", 1.0) == [] and name_keys("\x00", 1.0) == []


def test_in_a_terminal_every_line_is_words(tmp_path: Path) -> None:
    take = tmp_path / "x.take.jsonl"
    options = ("--tempo", "200", "--cycles", "8", "--device", "none", "--keys", "jf", "--take", str(take))
    terminal = Terminal("practise", "clubs_mills", "--plain", *options, XDG_DATA_HOME=str(tmp_path))
    try:
        terminal.wait_for(lambda: b"Enter starts." in terminal.drawn)
        terminal.press(b"\r")
        terminal.wait_for(lambda: b"Enter ends the take." in terminal.drawn)
        terminal.press(b"jfj")
        terminal.wait_for(lambda: b"Enter: again." in terminal.drawn)
        terminal.press(b"\x11")
        assert terminal.end() == 0
    finally:
        terminal.kill()
    said = terminal.drawn.decode()
    assert "\x1b" not in said and not DRAWN.search(said)
    assert take.read_bytes().count(b'"hand"') >= 3


def test_with_enter_alone_the_first_drill_runs_as_usual(tmp_path: Path) -> None:
    terminal = Terminal("--plain", XDG_DATA_HOME=str(tmp_path), XDG_CACHE_HOME=str(tmp_path))
    try:
        terminal.wait_for(lambda: b"asks line by line" in terminal.drawn)
        terminal.press(b"\r")
        terminal.wait_for(lambda: b"Press the key for" in terminal.drawn)
        terminal.press(b"\x03")
        assert terminal.end() == 0
    finally:
        terminal.kill()


@pytest.mark.parametrize("name", sorted(path.stem for path in snapshots.FOLDER.glob("*.txt")))
def test_no_screen_has_a_drawing_left_in_plain_words(name: str) -> None:
    whole = (snapshots.FOLDER / f"{name}.txt").read_text(encoding="utf-8")
    plain = plain_text(whole)
    assert not DRAWN.search(plain)
    # what is said in words is still said: every word of four letters and more in a line without a drawing
    for line in whole.splitlines():
        if not DRAWN.search(line):
            assert re.findall(r"\w{4,}", line) == re.findall(r"\w{4,}", plain_text(line))


def test_commands_print_words_and_figures_alone(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    command = ["toss", "--counts", "4", "--tempo", "120"]
    assert main(command) == 0
    assert DRAWN.search(capsys.readouterr().out)
    assert main(["--plain", *command]) == 0
    plain = capsys.readouterr().out
    assert "2.00 s in the air" in plain and not DRAWN.search(plain)
    assert main([*command, "--plain"]) == 0
    assert capsys.readouterr().out == plain
    assert main([*command, "--json", "--plain"]) == 0
    as_values = capsys.readouterr().out
    assert main([*command, "--json"]) == 0
    assert capsys.readouterr().out == as_values
    monkeypatch.setenv("TEMPO_COACH_PLAIN", "1")
    assert main(command) == 0
    assert capsys.readouterr().out == plain


def write_traces(folder: Path) -> None:
    """A rope's trace, five who clap, onsets and their plan: what commands with drawings read."""
    rng = np.random.default_rng(1)
    made = movement.rope(3).trace
    table = np.column_stack([made.time, made.values])
    np.savetxt(folder / "rope.csv", table, delimiter=",", header="time,x,y", comments="", fmt="%.5f")
    rows = [f"{4 + 0.5 * k + rng.normal(0, 0.03):.4f},{name}" for k in range(32) for name in ("Ada", "Bea", "Cyl")]
    (folder / "group.csv").write_text("\n".join(["time,member", *rows]), encoding="utf-8")
    plan = lay("clubs_mills", tempo_bpm=120, cycles=16)
    (folder / "plan.json").write_text(json.dumps(plan_to_dict(plan)), encoding="utf-8")
    onsets = zip(plan.moments.time, plan.moments.hand, strict=True)
    rows = [f"{time + rng.normal(0, 0.03):.4f},{hand}" for time, hand in onsets]
    (folder / "onsets.csv").write_text("\n".join(["time,hand", *rows]), encoding="utf-8")


#: Commands that draw, and how many words of theirs are read out at least.
DRAWING = {
    ("trace", "rope.csv", "--picture", "--drill", "rope_figure_eight"): 100,
    ("group", "group.csv", "--tempo", "120"): 60,
    ("score", "onsets.csv", "--plan", "plan.json"): 80,
    ("drills", "show", "rope_wrap_release"): 80,
    ("drills", "show", "clubs_mills"): 50,
}


@pytest.mark.parametrize("command", DRAWING, ids=" ".join)
def test_nothing_of_a_drawing_is_left_of_a_command(
    command: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    write_traces(tmp_path)
    monkeypatch.chdir(tmp_path)
    assert main([*command, "--plain"]) == 0
    plain = capsys.readouterr().out
    assert not DRAWN.search(plain) and len(re.findall(r"\w+", plain)) >= DRAWING[command]
    assert "\n\n\n" not in plain
    # words far apart are the heading of a table, never that of a drawing that is gone: figures stand below it
    lines = [*plain.splitlines(), ""]
    for line, below in pairwise(lines):
        assert not re.search(r"\S {5,}\S+ {5,}\S", line) or re.search(r"[-+]?\d+ +[-+]?\d", below)

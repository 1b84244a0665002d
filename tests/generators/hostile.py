"""Hostile words for every command: each option that the parser knows, with what nobody should give it."""

from __future__ import annotations

import argparse
import os
import shlex
import socket
from functools import cache
from typing import TYPE_CHECKING, NamedTuple

from tempo_coach.cli import build_parser
from tests.generators.whole_files import whole

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

ESCAPE = "\x1b]0;mine\x07\x1b[2J"
NUMBERS = (
    "nan", "inf", "-inf", "1e300", "-1e300", "1e999", "-1", "0", "1e-300", "-0.0", "9" * 5000, "99999999999999999999",
    "1000000000", "999999999999", "100000", "400", "x", "", "1,5", "１２", "0x10", "1e", "\udcff", ESCAPE,
)  # fmt: skip
TEXTS = (
    "", " ", "x" * 300, "x" * 100_000, ".", "..", "/", "../" * 200, "it's", '"', ESCAPE, "\udcff", "a\0b", "=1+1", ",",
    "x,x", "=", "a=b=c", "a=", "=1", "a=nan", "a=1e300", ":", "a:a", "-", "1-0", "0-1e999", "nan-nan", "\n", "%s{0}",
    "left", "\u202e", "舞🤸", "2031-99-99", "99999999999999999999", "9" * 5000, "con", "a/b/c",
)  # fmt: skip
#: Whole files of every kind, as they lie in the folder.
FILES = {
    "onsets.csv": "onsets", "own.toml": "drill", "plan.json": "plan", "x.take.jsonl": "take", "trace.csv": "trace",
    "moves.toml": "moves", "routine.toml": "routine", "rules.toml": "rule table", "members.csv": "members",
    "marks.csv": "marks", "beats.txt": "beats", "beats.mid": "midi", "ball.wav": "wav", "x.mp4": "film",
    "history.sqlite": "history",
}  # fmt: skip
#: Files that are none, or none that anybody means.
ODD = (
    "gone.csv", "fifo", "socket", "folder", "loop", "dangling", "/dev/zero", "/dev/null", "/dev/full", "empty", "huge",
    "noise.csv", "noise.json", "noise.toml", "noise.wav", "deep.json", "deep.toml", "wide.csv", "latin.csv", "wave.wav",
    "utf16.csv", "numbers.csv", "numbers.json",
)  # fmt: skip
#: What each command does with the files of the folder, a line for each of its ways; none of them writes over a file.
WAYS = """\
demo --out made
drills show own.toml
drills new made --apparatus rope --counts 4 --circles "low 1, rise, high 2, fall"
listen ball.wav --beats made.txt --midi made.mid
listen ball.wav --known beats.txt
listen ball.wav --taps beats.txt
counts ball.wav --plain
counts routine.toml
cut ball.wav --keep 1-2 --out made.wav
cut routine.toml --keep start-end --ending fade --fade 1 --silence 1 --tone --loudness off --title Ball
countfilm routine.toml --out made.mp4 --voice
countfilm routine.toml --cards made.html
sheet routine.toml --out made.html
check routine.toml --code rules.toml
cue own.toml --tempo 100 --cycles 4 --out made.wav --plan made.json
cue clubs_mills --music ball.wav --eights 2 --json
cue routine.toml --out made.wav
practise own.toml --tempo 100 --cycles 4 --device none --take made
practise routine.toml --device none --take made
score onsets.csv --plan plan.json
score onsets.csv --drill own.toml --tempo 100 --cycles 4 --keep Ada
score trace.csv --plan plan.json
score --take x.take.jsonl
score --sound ball.wav --plan plan.json
score --marks marks.csv --fps 30 --clap 1 2 --plan plan.json
score --film x.mp4 --plan plan.json
trace trace.csv --svg made.svg
film x.mp4 --marker right=red --out made.csv
film x.mp4 --plan plan.json
learn trace.csv --counts 4 --out made.toml
compare own.toml trace.csv
toss --counts 4 --tempo 120 --release 1.8 --svg made.svg
toss --flight 1.6 --distance 3
toss --table --tempo 100
toss --trace trace.csv
toss --music ball.wav --counts 4
group members.csv --tempo 120
group A=onsets.csv B=x.take.jsonl --plan plan.json
group x.take.jsonl A=x.take.jsonl --drill own.toml --tempo 100
history --file history.sqlite
history --file history.sqlite --trend
history --file history.sqlite --show 1
history --file history.sqlite --rescore
history --file history.sqlite --take-in x.take.jsonl --athlete Bea
history --file history.sqlite --csv made.csv
report 1 --file history.sqlite --out made.html
report --athlete Ada --file history.sqlite --out made.html
report members.csv --group --tempo 120 --out made.html
report x.take.jsonl --out made.html
report --gymnast Ada --file history.sqlite --out made.html
report --table --file history.sqlite --out made.html
today --athlete Ada --list --file history.sqlite
today --group Ada --minutes 10 --file history.sqlite --out made.html
goal own.toml --athlete Ada --tempo 100 --by 2999-01-01 --file history.sqlite
goal --athlete Ada --file history.sqlite
correct 1 --to Bea --file history.sqlite
correct 1 --not-counting fell --file history.sqlite
correct 1 --drill own.toml --file history.sqlite
correct 1 --eight 3 --file history.sqlite
correct 1 --note other --file history.sqlite
share --merge history.sqlite --file made.sqlite
share --hand-over Ada --out made.sqlite --file history.sqlite
share --export made.jsonl --file history.sqlite
forget Ada --file history.sqlite
calibrate --show
doctor
completion bash
"""


class Case(NamedTuple):
    """Words of a command line, and which option of it was given what it should not be given."""

    command: str
    option: str
    words: tuple[str, ...]


def furnish(folder: Path) -> None:
    """Put a whole file of every kind into a folder, and what is no such file."""
    for name, kind in FILES.items():
        (folder / name).write_bytes(whole(kind))
    os.mkfifo(folder / "fifo")
    with socket.socket(socket.AF_UNIX) as door:
        here = os.open(".", os.O_RDONLY)
        os.chdir(folder)  # the name of a socket may have no more than some hundred letters
        door.bind("socket")
        os.fchdir(here)
        os.close(here)
    (folder / "folder").mkdir()
    (folder / "loop").symlink_to("loop")
    (folder / "dangling").symlink_to("nowhere")
    (folder / "empty").write_bytes(b"")
    with (folder / "huge").open("wb") as file:
        file.truncate(1 << 31)  # takes no room
    for ending in ("csv", "json", "toml", "wav"):
        (folder / f"noise.{ending}").write_bytes(bytes(range(256)) * 300)
    (folder / "deep.json").write_text("[" * 100_000)
    (folder / "deep.toml").write_text("a = " + "[" * 100_000)
    (folder / "wide.csv").write_text(",".join(f"x{k}" for k in range(20_000)) + "\n" + ",".join("1" * 20_000) + "\n")
    (folder / "latin.csv").write_bytes("time,hand\n1.0,Zoë\n".encode("latin-1"))
    (folder / "utf16.csv").write_bytes("time,hand\n1.0,left\n".encode("utf-16"))
    rows = "".join(f"{time},{time},{time}\n" for time in ("1e300", "-1e300", "nan", "inf", "1" * 400, "1e-300"))
    (folder / "numbers.csv").write_text(f"time_s,x_m,hand\n{rows}")
    (folder / "numbers.json").write_text('{"version": 1, "passage": ' + "9" * 5000 + "}")
    # a header that promises four gigabytes (RIFF, data chunk of 0xFFFFFFF0 bytes)
    (folder / "wave.wav").write_bytes(whole("wav")[:40] + b"\xf0\xff\xff\xff" + b"\0" * 4000)


@cache
def _parser() -> argparse.ArgumentParser:
    return build_parser()


@cache
def _commands() -> dict[str, argparse.ArgumentParser]:
    (found,) = (each for each in _parser()._actions if isinstance(each, argparse._SubParsersAction))
    return dict(found.choices)


@cache
def _values_of(way: tuple[str, ...]) -> argparse.Namespace:
    return _parser().parse_args(way)


def ways() -> list[list[str]]:
    """Return the words of each way of each command, none of them hostile."""
    return [shlex.split(line) for line in WAYS.splitlines()]


def cases() -> Iterator[Case]:
    """Yield every option of every command, in each of its ways, with each hostile value there is for it."""
    for way in ways():
        command = _commands()[way[0]]
        for action in command._actions:
            option = action.option_strings[0] if action.option_strings else action.dest
            for given in _values(action):
                words = _with(command, way, action, given)
                yield Case(way[0], option, tuple(words))


def one_of_each(turn: int) -> list[Case]:
    """Return one case for every option of every command, another value for each ``turn``."""
    chosen: dict[tuple[str, str], list[Case]] = {}
    for case in cases():
        chosen.setdefault((case.command, case.option), []).append(case)
    # a step that shares no factor with the numbers of values goes through all of them
    return [each[(turn + 7 * k) % len(each)] for k, each in enumerate(chosen.values())]


def _values(action: argparse.Action) -> Iterator[list[str]]:
    """Yield what an option may be given; a flag is given alone."""
    if isinstance(action, (argparse._HelpAction, argparse._VersionAction)):
        return
    if action.nargs == 0:
        yield []
        return
    several = action.nargs if isinstance(action.nargs, int) else 1
    values = NUMBERS if action.type in (int, float) else (*TEXTS, *ODD, *FILES)
    for value in values:
        yield [value] * several
        if several > 1:
            yield ["1"] * (several - 1) + [value]


def _with(command: argparse.ArgumentParser, way: list[str], action: argparse.Action, given: list[str]) -> list[str]:
    """The words of a way with an option given otherwise; what does not go together with it left out."""
    rivals = [
        each
        for group in command._mutually_exclusive_groups
        if action in group._group_actions
        for each in group._group_actions
    ]
    named = {option: each for each in command._actions for option in each.option_strings}
    words: list[str] = [way[0]]
    put = False
    rest = list(way[1:])
    while rest:
        word = rest.pop(0)
        if word in named:
            each = named[word]
            wanted = each.nargs if isinstance(each.nargs, int) else 1
            may_miss = each.nargs == argparse.OPTIONAL and (not rest or rest[0] in named)
            values = [] if may_miss else [rest.pop(0) for _ in range(wanted)]
            if each is not action and each not in rivals:
                words += [word, *values]
        elif not action.option_strings and not put and _stands_for(way, action, word):
            words += given
            put = True
        else:
            words.append(word)
    if action.option_strings:
        words += [action.option_strings[0], *given]
    elif not put:
        words += given
    return words


def _stands_for(way: list[str], action: argparse.Action, word: str) -> bool:
    """Whether a word of a way is the value of something that is named without an option."""
    value = getattr(_values_of(tuple(way)), action.dest)
    return word in (value if isinstance(value, list) else [value])

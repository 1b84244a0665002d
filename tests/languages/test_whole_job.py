"""The whole job in a language that nobody speaks: every word that is shown has gone through the catalogue.

Commands run in this process on small files, each with what it prints, the page it writes, or the sentence by which it
refuses; screens stand in ``tests/ui/test_sizes.py``. What a catalogue does not hold stays English, and is found here.
"""

from __future__ import annotations

import html
import re
import shlex
import shutil
from typing import TYPE_CHECKING

import pytest

from tempo_coach import cli
from tempo_coach.cli import COMMANDS, main
from tempo_coach.languages import ENGLISH, speak
from tests.generators.hostile import furnish
from tests.generators.workplace import fill
from tests.languages.pseudo import english_in, pseudo

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


#: Names of people, titles that somebody gave, apparatus and hands as they are typed, units, libraries.
GIVEN = _words(
    "ada bea cyl dora nobody an invented note fell made gone now drils drills routine music mills other first "
    "second rope wrist ball contact clap foot voice red yellow fish bash zsh tcsh html htm txt lufs countfilm "
    "goal report from until dev pty linux jinja joblib librosa markupsafe mido numpy platformdirs python stretch "
    "scipy shtab sounddevice soundfile soxr textual tomlkit opencv headless aiohttp cryptography segno chromium "
)
#: What is done, a line each; the folder holds what these speak of.
WAYS = """\
drills
drills --table
drills show rope_figure_eight
drills show clubs_mills_carried
drills new made --apparatus rope --counts 4 --circles "low 1, rise, high 2, fall"
listen music.mp3
listen music.mp3 --map
counts routine.toml --plain
cut routine.toml --keep 1-4 7-9 --out made.wav
sheet routine.toml --map
sheet routine.toml --out made.html --gymnast Ada
check routine.toml
check --list
cue own.toml --tempo 100 --cycles 4 --out made.wav --plan made.json
countfilm routine.toml --cards made.html
score onsets.csv --plan plan.json
score wrist.csv --drill rope_figure_eight --tempo 100 --cycles 8
score --take x.take.jsonl
trace wrist.csv --picture
trace trace.csv --svg made.svg
learn wrist.csv --counts 4 --hand right --out made.toml
compare rope_figure_eight wrist.csv
toss --counts 4 --tempo 120 --release 1.8 --apparatus ball --svg made.svg
toss --flight 1.6 --distance 3
toss --table --tempo 100 --apparatus hoop
group members.csv --tempo 120
group clapping.csv --tempo 100
group A=onsets.csv B=x.take.jsonl --plan plan.json
history --file history.sqlite
history --file history.sqlite --trend
history --file history.sqlite --show 1
history --file history.sqlite --athletes
report 1 --file history.sqlite --out made.html
report x.take.jsonl --out made.html
report --athlete Ada --file history.sqlite --out made.html
report members.csv --group --tempo 120 --out made.html
today --athlete Ada --list --file history.sqlite
today --group Ada --minutes 10 --file history.sqlite --out made.html
goal clubs_mills --athlete Ada --tempo 100 --by 2999-01-01 --file history.sqlite
correct 1 --eight 3 --file history.sqlite
correct 1 --to Bea --file history.sqlite
share --merge history.sqlite --file made.sqlite
forget Bea --yes --file history.sqlite
calibrate --show
doctor
"""
#: What goes wrong, one of each command.
WRONG = """\
drills show clubs_mils
listen gone.mp3
counts onsets.csv
cut routine.toml --keep 900-901 --out made.wav
sheet routine.toml --out made.docx
check routine.toml --code gone
cue clubs_mills --tempo 5000 --out made.wav
cue routine.toml --plan plan.json
countfilm routine.toml
practise clubs_mills --keys aa --device none
score gone.csv --plan plan.json
score onsets.csv
score onsets.csv --drill own.toml --tempo 100 --cycles 4
trace onsets.csv
film gone.mp4
learn plan.json --counts 4 --out made.toml
compare rope_figure_eight gone.csv
toss --counts 40
toss --counts x
toss --release 3
group members.csv --plan gone.json
history --show 99 --file history.sqlite
report 99 --file history.sqlite --out made.html
today --minutes x
goal clubs_mills --athlete Ada --by yesterday --file history.sqlite
correct 99 --to Bea --file history.sqlite
share --merge gone.sqlite --file history.sqlite
forget Nobody --file history.sqlite
calibrate --nothing
doctor now
completion fish
drils
"""


@pytest.fixture(scope="module")
def workplace(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("job")
    furnish(folder)
    fill(folder)
    return folder


@pytest.fixture
def say(
    workplace: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Iterator[object]:
    """Run a command in the pseudo-language; return its exit code and every text that it shows."""
    for name in workplace.iterdir():
        if name.is_file() and not name.is_symlink() and name.stat().st_size < 10_000_000:
            shutil.copy(name, tmp_path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(cli, "_choose_language", lambda _: speak(pseudo()))

    def run(line: str) -> tuple[int, str]:
        try:
            code = main(shlex.split(line))
        except SystemExit as left:
            code = int(left.code or 0)
        said = capsys.readouterr()
        shown = [said.out, said.err]
        for made in sorted(tmp_path.glob("made*")):
            if made.suffix in (".html", ".svg"):
                shown.append(_words_of(made.read_text(encoding="utf-8")))
            if made.is_file():
                made.unlink()
        return code, "\n".join(shown)

    yield run
    speak(ENGLISH)


def _words_of(page: str) -> str:
    page = re.sub(r"(?s)<(style|script)\b.*?</\1>", "", page)
    told = re.findall(r'(?:alt|title|aria-label|placeholder)="([^"]*)"', page)
    return html.unescape("\n".join([re.sub(r"<[^>]*>", " ", page), *told]))


def english_lines(text: str) -> list[tuple[list[str], str]]:
    return [(words, line.strip()) for line in text.splitlines() if (words := english_in(line, GIVEN))]


def tell(left: dict[str, object]) -> str:
    return "\n".join(f"{line}: {found}" for line, found in left.items())


def test_every_command_and_page_says_everything_in_her_language(say) -> None:
    left = {}
    for line in WAYS.splitlines():
        code, shown = say(line)
        if code or (found := english_lines(shown)):
            left[line] = (code, shown if code else found)
    assert not left, tell(left)


def test_every_error_is_said_in_her_language(say) -> None:
    left = {}
    for line in WRONG.splitlines():
        code, shown = say(line)
        if code not in (1, 2) or (found := english_lines(shown)):
            left[line] = (code, found)
    assert not left, tell(left)


def test_every_help_is_in_her_language(say) -> None:
    left = {}
    for command in ("", *COMMANDS):
        code, shown = say(f"{command} --help")
        shown = re.sub(rf"(?m)^    ({'|'.join(COMMANDS)}) ", "", shown)
        if code or (found := english_lines(shown)):
            left[command] = (code, found)
    assert not left, tell(left)

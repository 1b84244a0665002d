"""What happens before a command does its work: help, usage, and what is not imported."""

import argparse
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from tempo_coach.cli import COMMANDS, main
from tempo_coach.music.files.sound import Sound
from tempo_coach.music.files.sound_file import write_sound
from tests import HANG
from tests.music.beats.test_network import play_drums

#: Finds everything without what the interpreter's own start imports for that.
PATHS = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
#: Nothing of these is needed for beats; sounddevice and textual belong to the practice.
UNHEARD = ("librosa", "numba", "scipy", "sounddevice", "textual", "tomlkit", "mido", "joblib", "jinja2", "sqlite3")
SLOW = ("librosa", "scipy", "sounddevice", "soundfile", "textual", "numpy", "numba", "tomlkit")
#: Of the standard library what takes longer to import than argparse itself.
HEAVY = ("dataclasses", "inspect", "pathlib", "tempfile", "hashlib", "urllib", "html", "json", "logging", "asyncio")
#: Of the program what tells its commands.
LIGHT = {
    "tempo_coach",
    *(
        f"tempo_coach.{name}"
        for name in ("cli", "cli.shown", "cli.options", "errors", "languages", "languages.choice", "signs")
    ),
}


def loaded_by(*words: str) -> tuple[str, set[str]]:
    """What a command says in a fresh process, and what it has imported by then."""
    code = (
        "import sys\n"
        "from tempo_coach.cli import main\n"
        f"try: main({words!r})\n"
        "except SystemExit: pass\n"
        "print('LOADED', *sys.modules)"
    )
    done = subprocess.run([sys.executable, "-S", "-c", code], capture_output=True, text=True, check=True, env=PATHS)
    *said, loaded = done.stdout.splitlines()
    return "\n".join(said), set(loaded.split()[1:])


def ours(loaded: set[str]) -> set[str]:
    return {name for name in loaded if name.split(".")[0] == "tempo_coach"}


def test_the_help_loads_nothing_but_what_tells_the_commands():
    said, loaded = loaded_by("--help")
    assert "tempo-coach demo" in said
    assert not loaded & {*SLOW, *HEAVY}
    assert ours(loaded) == LIGHT


def test_the_help_of_a_command_loads_no_other_command_and_nothing_slow():
    said, loaded = loaded_by("listen", "--help")
    assert "--beats" in said
    assert not loaded & set(SLOW)
    assert {name for name in ours(loaded) if name.rpartition(".")[2] in COMMANDS} == {"tempo_coach.cli.listen"}


def test_listening_to_music_loads_no_library_that_it_can_do_without(tmp_path):
    """Importing scipy's filters takes longer than hearing a minute of music, librosa's numba longer still."""
    music = tmp_path / "music.wav"
    write_sound(music, Sound(play_drums(0.5 * np.arange(60), seconds=30)[:, None], 44_100 // 2))
    code = (
        "import sys\n"
        "from tempo_coach.cli import main\n"
        f"assert main(['listen', {str(music)!r}, '--json']) == 0\n"
        "assert sys.modules['tempo_coach.music.beats.network']._read.cache_info().currsize == 1, 'no network'\n"
        f"print('LOADED', *[name for name in {UNHEARD!r} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "LOADED"


def test_every_command_has_help_with_an_example(capsys):
    for command in COMMANDS:
        with pytest.raises(SystemExit) as left:
            main([command, "--help"])
        assert left.value.code == 0
        assert f"tempo-coach {command}" in " ".join(capsys.readouterr().out.split("Example:")[1].split())


def test_a_mistyped_command_is_wrong_usage_and_the_near_miss_is_suggested(capsys):
    with pytest.raises(SystemExit) as left:
        main(["lisen"])
    assert left.value.code == 2
    said = capsys.readouterr().err
    assert "Did you mean listen?" in said
    assert "Traceback" not in said


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["cue", "clubs_mills", "--tmpo", "100"], "tempo-coach cue: there is no option --tmpo. Did you mean --tempo?"),
        (["listen", "x.wav", "--jsn=1"], "tempo-coach listen: there is no option --jsn=1. Did you mean --json?"),
        (["--verson"], "tempo-coach: there is no option --verson. Did you mean --version?"),
        (["toss", "--xyz"], "tempo-coach toss: there is no option --xyz. tempo-coach toss --help"),
        (["doctor", "now"], "tempo-coach doctor: 'now' is one word too many."),
    ],
)
def test_a_mistyped_option_is_wrong_usage_and_the_near_miss_is_suggested(words, told, capsys):
    with pytest.raises(SystemExit) as left:
        main(words)
    assert left.value.code == 2
    assert capsys.readouterr().err.startswith(told)


def test_a_value_that_is_no_number_is_wrong_usage(capsys):
    with pytest.raises(SystemExit) as left:
        main(["cue", "clubs_mills", "--tempo", "fast"])
    assert left.value.code == 2
    assert "--tempo: expected a number, got 'fast'" in capsys.readouterr().err


def test_a_mistake_is_one_sentence_on_stderr_and_code_1(capsys):
    assert main(["cue", "clubs_mils", "--json"]) == 1
    caught = capsys.readouterr()
    assert caught.out == ""
    assert caught.err.count("\n") == 1
    assert "did you mean clubs_mills?" in caught.err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["cue"], "tempo-coach cue: DRILL is missing."),
        (["cue", "clubs_mills", "--tempo"], "tempo-coach cue: --tempo: expected a value behind it."),
        (["cue", "clubs_mills", "--eights", "two"], "tempo-coach cue: --eights: expected a whole number, got 'two'."),
        (["score"], "tempo-coach score: expected one of --plan --drill --take."),
        (["cue", "x", "--tempo", "1e999"], "tempo-coach cue: --tempo: expected a number, got '1e999'."),
        (
            ["cue", "x", "--eights", "9" * 5000],
            f"tempo-coach cue: --eights: expected a whole number, got '{'9' * 40}…'.",
        ),
        (
            ["history", "--last", "99999999999999999999"],
            "tempo-coach history: --last: expected a whole number of at most 1000000000, got '99999999999999999999'.",
        ),
        (["listen", "x", "--meter", "5"], "tempo-coach listen: --meter: there is no '5' here, but 3, 4."),
        (["it's"], 'tempo-coach: there is no "it\'s" here.'),
        (["cue", "x", "--cues", "it's"], 'tempo-coach cue: --cues: there is no "it\'s" here, but all, alternate, ones'),
        (["trace", "x", "--columns", "x,x"], "tempo-coach trace: --columns: expected different names with commas"),
        (["trace", "x", "--columns", ","], "tempo-coach trace: --columns: expected different names with commas"),
        (["history", "--words", "A\udcff"], "tempo-coach: expected letters, got 'A\\udcff'"),
        (["drills", "show", "a\0b"], "tempo-coach: expected letters, got 'a\\x00b'"),
        (["score", "--plan", "a", "--drill", "b"], "tempo-coach score: --drill does not go together with --plan."),
    ],
)
def test_wrong_usage_is_said_in_plain_words(words, said, capsys):
    with pytest.raises(SystemExit) as left:
        main(words)
    assert left.value.code == 2
    error = capsys.readouterr().err
    assert error.startswith(said) and "argument" not in error
    assert error.count("\n") == 1


LONG = "x" * 300


TOO_LONG = [
    ["cue", LONG, "--json"],
    ["cue", "clubs_mills", "--plan", LONG],
    ["listen", LONG],
    ["drills", "show", LONG],
    ["drills", "new", LONG, "--apparatus", "rope", "--counts", "4", "--circles", "low 1, high 2"],
    ["score", LONG, "--drill", "clubs_mills"],
    ["score", "--take", LONG],
    ["trace", LONG],
    ["group", LONG, "--tempo", "100"],
    ["history", "--file", LONG],
    ["forget", "Ada", "--file", LONG],
    ["report", LONG, "--out", "x.html"],
    ["toss", "--counts", "4", "--tempo", "100", "--svg", LONG],
    ["demo", "--out", LONG],
    ["check", LONG],
    ["sheet", LONG],
    ["counts", LONG, "--plain"],
]


def test_a_name_longer_than_any_file_has_is_one_sentence(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    for words in TOO_LONG:
        assert main(words) == 1, words
        error = capsys.readouterr().err
        assert error.startswith("tempo-coach: ") and error.count("\n") == 1, (words, error)
        assert list(tmp_path.iterdir()) == [], words


@pytest.mark.skipif(not Path("/dev/full").is_char_device(), reason="the system has no device that is always full")
def test_an_output_that_is_full_is_said():
    with Path("/dev/full").open("wb") as full:
        words = [sys.executable, "-m", "tempo_coach.cli", "drills"]
        done = subprocess.run(words, stdout=full, stderr=subprocess.PIPE, text=True, check=False, timeout=HANG)
    assert done.returncode == 1
    assert done.stderr.startswith("tempo-coach: there is no room for what is written") and done.stderr.count("\n") == 1


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["cue"], "DRILL is missing."),
        (["cue", "clubs_mills", "--tempo"], "--tempo: expected a value behind it."),
        (["score", "--plan", "a", "--clap", "1"], "--clap: expected 2 values behind it."),
        (["score"], "expected one of --plan --drill --take."),
        (["score", "--plan", "a", "--drill", "b"], "--drill does not go together with --plan."),
        (["score", "--s", "1"], "ambiguous option: --s could match "),
    ],
)
def test_what_the_library_of_arguments_says_is_not_read(words, said, capsys, monkeypatch):
    monkeypatch.setattr(argparse, "_", "« {} »".format)  # as a system in another language has it
    monkeypatch.setattr(argparse, "ngettext", lambda _one, many, _number: f"« {many} »")
    with pytest.raises(SystemExit) as left:
        main(words)
    assert left.value.code == 2
    assert f": {said}" in capsys.readouterr().err

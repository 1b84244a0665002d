"""The program keeps to itself: nothing listens or calls out, and no file but the named ones is written."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np

from tempo_coach.music.files.sound_file import write_sound
from tests.music.beats.test_finder import clicks

#: Runs commands under the interpreter's own audit, which sees every file that is opened and every socket.
WATCHED = """
import json, os, sys
seen = {"written": [], "sockets": []}
def look(event, args):
    if event == "open" and isinstance(args[0], (str, bytes)):
        mode, flags = args[1] or "", args[2] or 0
        if set(mode) & set("wax+") or flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT):
            seen["written"].append(os.path.abspath(os.fsdecode(args[0])))
    elif event in ("socket.bind", "socket.connect", "socket.sendto", "socket.getaddrinfo"):
        seen["sockets"].append([event, repr(args[1:])])
    elif event in ("os.rename", "os.remove", "os.mkdir", "shutil.rmtree"):
        seen["written"].append(os.path.abspath(os.fsdecode(args[0])))
sys.addaudithook(look)
sys.dont_write_bytecode = True
from tempo_coach.cli import main
for words in json.loads(sys.argv[1]):
    code = main(words)
    assert code == 0, (words, code)
sys.stdout.flush()
print("SEEN" + json.dumps(seen))
"""


def watch(folder: Path, *commands: list[str]) -> dict[str, list]:
    """What commands write and which sockets they open; whatever they need for a moment goes to a folder for that."""
    home, moment = folder / "home", folder / "moment"
    home.mkdir(exist_ok=True)
    moment.mkdir(exist_ok=True)
    environment = {**os.environ, "HOME": str(home), "XDG_DATA_HOME": str(home), "XDG_CACHE_HOME": str(home)}
    environment |= dict.fromkeys(("TMPDIR", "TEMP", "TMP"), str(moment))
    done = subprocess.run(
        [sys.executable, "-c", WATCHED, json.dumps(commands)],
        cwd=folder, env=environment, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.rsplit("SEEN", 1)[1])


def test_the_main_job_writes_the_named_files_and_opens_no_socket(tmp_path: Path) -> None:
    folder = tmp_path / "a folder with spaces, ü and 舞"
    folder.mkdir()
    (tmp_path / "link").symlink_to(folder)
    demo = tmp_path / "link" / "demo"
    music = str(folder / "clicks.flac")
    write_sound(Path(music), clicks(np.arange(0.5, 19.5, 0.5), seconds=20))
    seen = watch(
        tmp_path,
        ["demo", "--out", str(demo)],
        ["listen", music, "--beats", str(folder / "beats.txt")],
        ["cue", "clubs_mills", "--music", music, "--eights", "2", "--out", str(folder / "cues.ogg")],
        ["score", str(demo / "onsets.csv"), "--plan", str(demo / "plan.json")],
        ["toss", "--counts", "4", "--tempo", "120"],
        ["drills", "show", "clubs_mills"],
    )
    assert seen["sockets"] == []
    named = {
        "demo",
        "music.wav",
        "cues.wav",
        "plan.json",
        "onsets.csv",
        "scorecard.json",
        "beats.txt",
        "cues.ogg",
        "clicks.flac",
    }
    elsewhere = [path for path in seen["written"] if not path.startswith((str(tmp_path), "/dev/", "/proc/"))]
    assert elsewhere == []
    left = {path.name for path in folder.rglob("*")}
    assert left == named
    kept = [path for path in (tmp_path / "home").rglob("*") if path.is_file()]
    # what was heard of the two pieces of music stays in the cache
    assert {(path.parent.name, path.suffix) for path in kept} == {("heard", ".json")} and len(kept) == 2
    assert list((tmp_path / "moment").iterdir()) == []


def test_a_name_that_is_a_folder_is_said(tmp_path: Path, capsys) -> None:
    from tempo_coach.cli import main

    assert main(["cue", "clubs_mills", "--out", str(tmp_path)]) == 1
    assert "found a folder" in capsys.readouterr().err
    assert main(["score", str(tmp_path), "--drill", "clubs_mills"]) == 1
    assert main(["listen", str(tmp_path)]) == 1
    assert "Traceback" not in capsys.readouterr().err

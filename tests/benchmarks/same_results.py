"""Outputs of two checkouts on the same inputs: ``python -m tests.benchmarks.same_results FOLDER OTHER_PYTHON``.

For a change that is to change nothing: plans, scorecards of 500 seeds, traces, beats, a film, groups and pages are made
by this checkout and by the one that another interpreter has installed, both through the command line, and compared
character by character, and every number to nine digits; beats to what another fast Fourier transform of 32 bits makes
of them.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import numpy as np

SEEDS, TRACES, SONGS = 500, 24, 4
DRILLS = ("rope_figure_eight", "clubs_mills", "clubs_mills_three", "clubs_asymmetric", "ball_bounces", "ribbon_snakes")
#: Seconds, and parts of a confidence, by which beats may differ.
OF_BEATS = 3e-5
NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e-?\d+)?")
#: Runs in either checkout: every line of ``commands`` by its own parser, what it wrote and said into one file.
DRIVER = """
import contextlib, io, json, sys
from tempo_coach.cli import main
out = []
for words in json.load(open("commands.json")):
    said, told = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(told):
        try:
            code = main(words)
        except SystemExit as left:
            code = left.code
    out.append([words, code, said.getvalue(), told.getvalue()])
json.dump(out, open(sys.argv[1], "w"))
"""


def furnish(folder: Path) -> list[list[str]]:
    """Write the inputs, and return the commands that read them."""
    from tests.generators import movement
    from tests.generators.films import Marker, Scene, pictures, steady_times, turning, write_film
    from tests.generators.hall import tune

    plans = [
        ["cue", drill, "--tempo", "100", "--eights", "8", "--plan", f"{drill}.json", "--force"] for drill in DRILLS
    ]
    for words in plans:
        subprocess.run([sys.executable, "-m", "tempo_coach.cli", *words], cwd=folder, check=True, capture_output=True)
    moments = {drill: json.loads((folder / f"{drill}.json").read_text())["moments"] for drill in DRILLS}
    commands = [[*words, "--json"] for words in plans]
    for seed in range(SEEDS):
        rng, drill = np.random.default_rng(seed), DRILLS[seed % len(DRILLS)]
        asked = moments[drill]
        late = np.cumsum(rng.normal(0, 0.008, len(asked))) * 0.5 + rng.normal(0, 0.012, len(asked))
        if seed % 4 == 1:
            late[rng.integers(len(asked)) :] += 0.2
        kept = np.flatnonzero(rng.random(len(asked)) > (0.02 if seed % 3 == 0 else 0.0))
        rows = sorted((asked[k]["time"] + late[k], asked[k]["hand"]) for k in kept)
        (folder / f"take{seed}.csv").write_text("time,hand\n" + "".join(f"{t:.6f},{hand}\n" for t, hand in rows))
        commands.append(
            ["score", f"take{seed}.csv", "--plan", f"{drill}.json", *([] if seed % 25 == 0 else ["--json"])]
        )
    group = [f"{who}=take{seed}.csv" for who, seed in zip(["Ada", "Bea", "Cyl", "Dora"], range(1, 25, 6), strict=True)]
    commands += [["group", *group, "--plan", f"{DRILLS[1]}.json", *form] for form in ([], ["--json"])]
    for seed in range(TRACES):
        rng = np.random.default_rng(1000 + seed)
        time = movement.clock(20.0, 100.0)
        phase = movement.Phase(movement.ticks(rng, 22, 0.9))
        trace = (movement.sensor, movement.cone)[seed % 2](seed, phase, time)
        header = "time," + ",".join(channel.name for channel in trace.channels)
        table = np.column_stack([trace.time, trace.values])
        np.savetxt(folder / f"trace{seed}.csv", table, fmt="%.6f", delimiter=",", header=header, comments="")
        commands.append(["trace", f"trace{seed}.csv", *([] if seed % 4 == 0 else ["--json"])])
    import soundfile

    for seed in range(SONGS):
        soundfile.write(folder / f"song{seed}.wav", tune(seed, 40.0, rate_hz=22_050), 22_050)
        commands.append(["listen", f"song{seed}.wav", "--json"])
    times = steady_times(6.0, 30.0)
    scene = Scene({"right": Marker((30, 200, 60), turning(lambda t: t / 0.8, (320.0, 180.0), 70.0))}, times)
    write_film(folder / "film.mp4", pictures(scene), size=scene.size)
    commands += [["film", "film.mp4", "--marker", "right=green", "--json", "--out", "film.csv", "--force"]]
    commands += [["report", *group, "--group", "--plan", f"{DRILLS[1]}.json", "--out", "page.html", "--force"]]
    for seed in range(0, 60, 3):
        kept = ["--keep", "Ada", "--begun", f"2031-05-{1 + seed % 28:02}T18:{seed % 60:02}"]
        commands.append(["score", f"take{seed}.csv", "--plan", f"{DRILLS[seed % len(DRILLS)]}.json", *kept])
    commands += [
        ["history"],
        ["history", "--json"],
        ["history", "--trend", "--drill", "clubs_mills"],
        ["history", "--show", "2", "--json"],
    ]
    commands += [["report", "--athlete", "Ada", "--out", "her.html"], ["report", "3", "--out", "take.html"]]
    commands += [["drills", "show", drill] for drill in DRILLS] + [
        ["toss", "--counts", "4", "--tempo", "120"],
        ["drills"],
    ]
    (folder / "commands.json").write_text(json.dumps(commands))
    return commands


def outputs(folder: Path, python: str, name: str) -> list[list[object]]:
    """Return what each command gave in the checkout of an interpreter: words, exit code, output, errors, files."""
    history = folder / "history.db"
    history.unlink(missing_ok=True)
    for old in folder.glob("*.html"):
        old.unlink()
    where = {**os.environ, "TEMPO_COACH_HISTORY": str(history)}
    subprocess.run([python, "-c", DRIVER, name], cwd=folder, check=True, env=where)
    files = [folder / "film.csv", *sorted(folder.glob("*.html"))]
    return [*json.loads((folder / name).read_text()), *([path.name, 0, path.read_text(), ""] for path in files)]


def alike(one: str, other: str, *, off: float) -> bool:
    """Whether two texts have the same words, and numbers that differ by nine digits or ``off`` at most."""
    if NUMBER.sub("#", one) != NUMBER.sub("#", other):
        return False
    numbers, others = ([float(each) for each in NUMBER.findall(text)] for text in (one, other))
    return bool(np.allclose(numbers, others, rtol=1e-9, atol=off))


def main(folder: Path, other: str) -> int:
    """Print what differs; return how many commands do."""
    folder.mkdir(parents=True, exist_ok=True)
    furnish(folder)
    here, there = outputs(folder, sys.executable, "here.json"), outputs(folder, other, "there.json")
    different = 0
    for mine, theirs in zip(here, there, strict=True):
        off = OF_BEATS if mine[0][0] == "listen" else 0.0
        if not all(alike(str(a), str(b), off=off) for a, b in zip(mine, theirs, strict=True)):
            different += 1
            print("differs:", mine[0], "exit", mine[1], theirs[1])
    bad = sum(bool(each[1]) for each in here)
    print(f"{len(here)} outputs, {different} differ, {bad} of them failures of a command")
    return different


if __name__ == "__main__":
    sys.exit(1 if main(Path(sys.argv[1]), sys.argv[2]) else 0)

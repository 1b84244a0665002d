"""A folder with the files that the README and the helps of the commands speak of; all invented."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from tempo_coach import coach
from tempo_coach.demo import Invented, compose
from tempo_coach.music.counts.count_map import Position
from tempo_coach.music.files.sound import resample
from tempo_coach.pattern.plan.plan_file import read_plan
from tempo_coach.pattern.routine.routine import Laid
from tests.compiled import fetch
from tests.generators import contacts, films
from tests.generators.movement import Phase, rope

#: Seconds of the film, and between two circles of a club in it.
FILMED, CIRCLE = 10.0, 0.6


@cache
def invented_music() -> Invented:
    """Return the demo's music, made once: it is always the same."""
    return fetch("invented_music", compose)


def fill(folder: Path) -> None:
    """Put music, a routine, a sensor's table, claps of two and a film into it."""
    for name, content in fetch("workplace", _make).items():
        (folder / name).write_bytes(content)


def _make() -> dict[str, bytes]:
    with TemporaryDirectory() as made:
        _write(Path(made))
        return {each.name: each.read_bytes() for each in Path(made).iterdir()}


def _write(folder: Path) -> None:
    import soundfile

    sound = invented_music().sound
    soundfile.write(folder / "music.mp3", sound.samples, sound.rate_hz)
    opened = coach.begin_routine(folder / "routine.toml", folder / "music.mp3")
    laid = replace(opened.routine, laid=(Laid("rope_figure_eight", Position(5, 1.0), 2),))
    coach.save_routine(replace(opened, routine=laid))
    trace = rope(3).trace
    rows = np.column_stack([trace.time, trace.values])
    np.savetxt(folder / "wrist.csv", rows, delimiter=",", header="time_s,x_m,y_m", comments="", fmt="%.5f")
    claps = [(0.5 * k + late, name) for k in range(24) for name, late in (("first", 0.01), ("second", -0.02))]
    (folder / "clapping.csv").write_text("time,member\n" + "".join(f"{t:.3f},{name}\n" for t, name in claps))
    film_mills(folder / "mills.mp4", sound.mono(), sound.rate_hz)


def film_mills(path: Path, heard: np.ndarray, rate_hz: int) -> None:
    """Two clubs in mills, half a circle apart, with the music in the film's sound from its beginning on."""
    markers = {}
    for k, (name, colour) in enumerate({"left": films.RED, "right": films.YELLOW}.items()):
        lows = CIRCLE * (np.arange(int(FILMED / CIRCLE)) + 0.5 * k + 0.5)
        markers[name] = films.Marker(colour, films.turning(Phase(lows), (45 + 70 * k, 45), 28, 1 - 2 * k), 5.0)
    scene = films.Scene(markers, films.steady_times(FILMED, 30), (160, 96))
    sound = heard[: int(FILMED * rate_hz)]
    films.write_film(path, films.pictures(scene), size=scene.size, crf=18, sound=sound, rate_hz=rate_hz)


def record_claps(plan: Path, recording: Path) -> None:
    """What a phone in the gym takes: the cues of a plan through a room, and a clap on each moment."""
    import soundfile

    found = read_plan(plan)
    played = resample(coach.cue_sound(found), contacts.RATE_HZ).mono()
    made = contacts.record("clap", played, np.unique(found.moments.time), 5)
    soundfile.write(recording, made.recording, contacts.RATE_HZ)

"""A small whole file of every kind that the program reads, and its reader: what tests damage on purpose."""

from __future__ import annotations

import io
import json
import tempfile
from contextlib import closing
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach import coach
from tempo_coach.errors import CoachError
from tempo_coach.history.takes import History
from tempo_coach.music.beats.beat_files import beats_to_text, read_beats
from tempo_coach.music.beats.midi import beats_to_midi
from tempo_coach.music.files.sound_file import read_sound
from tempo_coach.observe.film.frames import look_at_film, read_film_sound, read_frames
from tempo_coach.observe.film.marks import read_marks
from tempo_coach.observe.member_rows import read_members
from tempo_coach.observe.take.onsets import read_onsets
from tempo_coach.observe.take.take_file import read_take
from tempo_coach.observe.take.take_writer import TakeWriter
from tempo_coach.observe.trace.tables import read_trace
from tempo_coach.pattern.drill.drill_file import find_drill, read_drill
from tempo_coach.pattern.plan.plan_file import plan_to_dict, read_plan
from tempo_coach.pattern.routine.routine_file import read_routine
from tempo_coach.pattern.routine.rules import list_codes, read_code
from tempo_coach.pattern.toss.moves import read_moves
from tempo_coach.report.words.errors import say_error
from tests.generators.films import RED, Marker, Scene, pictures, steady_times, write_film

if TYPE_CHECKING:
    from collections.abc import Callable

HANDS = ("right", "left")
ROUTINE = b"""\
title = "Ball, spring"
apparatus = "ball"
[music]
file = "ball.wav"
sha256 = "00"
[movement]
first = { eight = 1, count = 3 }
[[correction]]
do = "pause"
at = 30
to = 33.5
[[lay]]
drill = "ball_bounces"
eight = 3
[[moment]]
what = "toss"
eight = 5
count = "7&"
[[steps]]
start = { eight = 8 }
end = { eight = 11, count = "1" }
[[remark]]
eight = 4
text = "chin up"
"""


class Kind(NamedTuple):
    """A kind of file: how a whole one is made, how it is read, and the ending of its name."""

    make: Callable[[], bytes]
    read: Callable[[Path], object]
    ending: str = ".toml"


@cache
def _plan() -> coach.Plan:
    return coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=3))


def _written(write: Callable[[Path], object], name: str) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        write(path)
        return path.read_bytes()


def _write_take(path: Path) -> None:
    plan = _plan()
    writer = TakeWriter(path, plan, observed_by="tap", begun="2031-05-04T18:15:02", player="silent clock")
    for time, hand in zip(plan.moments.time, plan.moments.hand, strict=True):
        writer.onset(hand, stamp=float(time) + 100, time=float(time))
    writer.gap(6.0, 6.5)
    writer.close()


def _trace() -> bytes:
    rows = (f"{t:.3f};{100 * np.cos(9 * t):.1f};{100 * np.sin(9 * t):.1f}\n" for t in np.arange(0, 2, 0.02))
    return b"time_s;x_mm;y_mm\n" + "".join(rows).encode()


def _sound(subtype: tuple[str, str]) -> Callable[[], bytes]:
    def make() -> bytes:
        import soundfile

        samples = 0.3 * np.sin(np.arange(4410)[:, None] * [0.06, 0.08])
        held = io.BytesIO()
        soundfile.write(held, samples, 44100, format=subtype[0], subtype=subtype[1])
        return held.getvalue()

    return make


def _write_film(path: Path) -> None:
    marker = Marker(RED, lambda t: np.stack([40 + 20 * np.cos(6 * t), 30 + 15 * np.sin(6 * t)], axis=-1))
    scene = Scene({"right": marker}, steady_times(0.3, 30), size=(96, 64))
    sound = 0.3 * np.sin(0.05 * np.arange(14_400))
    write_film(path, pictures(scene), size=(96, 64), sound=sound)


def _read_film(path: Path) -> None:
    """Read what a film says of itself, its pictures and its sound."""
    film = look_at_film(path)
    for _ in read_frames(film):
        pass
    if film.has_sound:
        read_film_sound(film)


def _write_history(path: Path) -> None:
    from tests.history.season import put

    with History(path) as history:
        put(history, 1)
        history.put_note("an invented note", written="2031-05-04T18:15:00", take=1)


def _read_history(path: Path) -> None:
    try:
        with closing(History(path, read_only=True)) as history:
            for row in history.find():
                history.take(row.number)
                history.notes(take=row.number)
            history.check()
    finally:
        for beside in path.parent.glob(f"{path.name}[-.]*"):
            beside.unlink()


KINDS: dict[str, Kind] = {
    "onsets": Kind(
        lambda: b"time,hand\n5.4,right\n6.0,left\n6.6,right\n", lambda path: read_onsets(path, hands=HANDS), ".csv"
    ),
    "drill": Kind(lambda: find_drill("rope_figure_eight").read_bytes(), read_drill),
    "plan": Kind(lambda: json.dumps(plan_to_dict(_plan())).encode(), read_plan, ".json"),
    "take": Kind(lambda: _written(_write_take, "x.take.jsonl"), read_take, ".take.jsonl"),
    "trace": Kind(_trace, read_trace, ".csv"),
    "moves": Kind(lambda: b'[[move]]\nname = "roll"\ncounts = 2\n', read_moves),
    "routine": Kind(lambda: ROUTINE, read_routine),
    "rule table": Kind(lambda: next(list_codes()).read_bytes(), read_code),
    "members": Kind(lambda: b"time,member,hand\n1.0,Ada,right\n1.02,Bo,left\n1.5,Ada,right\n", read_members, ".csv"),
    "marks": Kind(
        lambda: b"frame,hand\n10,right\n25,left\n40.5,right\n",
        lambda path: read_marks(path, hands=HANDS, rate_hz=30.0),
        ".csv",
    ),
    "beats": Kind(
        lambda: beats_to_text(0.5 * np.arange(1, 17), np.arange(16) % 4 + 1).encode(),
        lambda path: read_beats(path, duration=60.0),
        ".txt",
    ),
    "midi": Kind(lambda: beats_to_midi(0.5 * np.arange(1, 17), np.arange(16) % 4 + 1), read_beats, ".mid"),
    "wav": Kind(_sound(("WAV", "PCM_16")), read_sound, ".wav"),
    "flac": Kind(_sound(("FLAC", "PCM_16")), read_sound, ".flac"),
    "ogg": Kind(_sound(("OGG", "VORBIS")), read_sound, ".ogg"),
    "mp3": Kind(_sound(("MP3", "MPEG_LAYER_III")), read_sound, ".mp3"),
    "film": Kind(lambda: _written(_write_film, "x.mp4"), _read_film, ".mp4"),
    "history": Kind(lambda: _written(_write_history, "x.sqlite"), _read_history, ".sqlite"),
}


@cache
def whole(kind: str) -> bytes:
    """Return the bytes of a whole file."""
    return KINDS[kind].make()


def read_or_say(read: Callable[[Path], object], path: Path) -> str:
    """Return what the reader said, which names the file; empty where it read it. Anything else it raises is a bug."""
    try:
        read(path)
    except CoachError as error:
        if not say_error(error).startswith(str(path)):
            raise AssertionError(f"the file is not named: {error}") from error
        return say_error(error)
    return ""


def damage(whole: bytes, changes: list[tuple[float, int, bytes]]) -> bytes:
    """Return a file with some bytes replaced: where (0 to 1), how many of them go, and what comes in their place."""
    for where, length, new in changes:
        start = int(where * len(whole))
        whole = whole[:start] + new + whole[start + length :]
    return whole

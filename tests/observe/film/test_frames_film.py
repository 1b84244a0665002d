"""Films read: every picture with its true time, upright; sound on the same clock; each bad file in one sentence."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.music.files import container
from tempo_coach.music.files.sound import Sound
from tempo_coach.music.files.sound_file import read_sound, write_sound
from tempo_coach.observe.film.frames import LONGEST, look_at_film, read_film_sound, read_frames
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.words.errors import say_error
from tempo_coach.report.words.reasons import say_reason
from tests.conftest import skip_for_missing_part
from tests.generators import films
from tests.refused import into, refused

if TYPE_CHECKING:
    from pathlib import Path

SIZE = (160, 96)
NOISE = 0.1 * np.random.default_rng(1).standard_normal((3 * 48_000, 1)).astype(np.float32)
TIMES = films.steady_times(3, 30, jitter=0.15)


def scene(times: np.ndarray = TIMES) -> films.Scene:
    path = films.turning(lambda t: t / 0.6, (80, 45), 30)
    return films.Scene({"a": films.Marker(films.RED, path, radius=5)}, times, SIZE)


def write(path: Path, *, times: np.ndarray = TIMES, sound: np.ndarray | None = NOISE, **how: object) -> Path:
    return films.write_film(path, films.pictures(scene(times)), size=SIZE, sound=sound, **how)  # type: ignore[arg-type]


def probe(path: Path, stream: str, entry: str) -> list[float]:
    if shutil.which("ffprobe") is None:
        skip_for_missing_part("the program ffprobe is not installed")
    asked = ["ffprobe", "-v", "error", "-select_streams", stream, "-show_entries", entry, "-of", "json", str(path)]
    said = json.loads(subprocess.run(asked, capture_output=True, text=True, check=True).stdout)
    return [float(next(iter(item.values()))) for item in said["frames"]]


KINDS = [
    ("a.mp4", {}),
    ("a.mov", {"turned": 90}),
    ("a.mkv", {}),
    ("a.webm", {"codec": "libvpx", "sound_codec": "libopus"}),
]


@pytest.mark.parametrize(("name", "how"), KINDS)
def test_every_picture_comes_with_the_time_that_it_was_given(tmp_path, name, how):
    film = look_at_film(write(tmp_path / name, **how))
    found = np.array([frame.time for frame in read_frames(film)])
    # Matroska keeps times in ms, an MPEG-4 file here in 1/90000 s.
    assert len(found) == len(TIMES)
    assert np.abs(found - TIMES).max() < (0.00051 if name in ("a.mkv", "a.webm") else 0.00001)
    assert film.has_sound


@pytest.mark.parametrize(("name", "how"), KINDS)
def test_number_and_times_of_pictures_are_those_that_ffprobe_gives(tmp_path, name, how):
    path = write(tmp_path / name, **how)
    found = [frame.time for frame in read_frames(look_at_film(path))]
    assert found == pytest.approx(probe(path, "v:0", "frame=pts_time"), abs=1e-6)


@pytest.mark.parametrize(("name", "how"), KINDS)
def test_the_sound_lies_on_the_clock_of_the_pictures(tmp_path, name, how):
    sound, begin = read_film_sound(look_at_film(write(tmp_path / name, **how)))
    late = lag_of(sound.mono(), NOISE[:, 0]) / 48_000 + begin
    assert sound.rate_hz == 48_000
    assert abs(late) < 0.001
    assert sound.duration == pytest.approx(3, abs=0.03)


def lag_of(found: np.ndarray, asked: np.ndarray) -> int:
    size = 1 << 19
    both = np.fft.irfft(np.fft.rfft(found, size) * np.conj(np.fft.rfft(asked, size)))
    at = int(np.argmax(both))
    return at if at < size // 2 else at - size


def test_a_window_gives_the_same_pictures_and_sound_at_the_same_times(tmp_path):
    path = write(tmp_path / "a.mp4")
    inside = TIMES[(TIMES >= 1.25) & (TIMES <= 2.5)]
    film = look_at_film(path, start=1.25, end=2.5)
    assert [frame.time for frame in read_frames(film)] == pytest.approx(inside, abs=1e-5)
    whole, begin = read_film_sound(look_at_film(path))
    part, at = read_film_sound(film)
    assert (at, part.duration) == pytest.approx((1.25, 1.25), abs=1e-4)
    first = round((at - begin) * 48_000)
    assert np.abs(part.samples - whole.samples[first : first + len(part.samples)]).max() < 1e-3


def test_sound_with_a_hole_keeps_its_times(tmp_path):
    """Phones lose blocks of sound: what follows must not move forward."""
    import av

    whole = films.write_sound_only(tmp_path / "a.mkv", NOISE)
    with av.open(str(whole)) as source, av.open(str(tmp_path / "b.mkv"), "w") as target:
        stream = target.add_stream_from_template(source.streams.audio[0])
        for packet in source.demux(source.streams.audio[0]):
            if packet.dts is not None and not 1.0 < float(packet.pts * packet.time_base) < 1.5:
                packet.stream = stream
                target.mux(packet)
    sound = read_sound(tmp_path / "b.mkv")
    late = lag_of(sound.mono()[2 * 48_000 :], NOISE[2 * 48_000 :, 0])
    assert abs(late) < 48
    assert np.abs(sound.mono()[int(1.1 * 48_000) : int(1.4 * 48_000)]).max() < 0.02


def test_music_in_m4a_aac_and_mov_is_read_like_any_other(tmp_path):
    for name in ("a.m4a", "a.aac", "a.mov", "music.wav"):
        path = films.write_sound_only(tmp_path / (name if name != "music.wav" else "x.m4a"), NOISE)
        if name == "music.wav":
            path = path.rename(tmp_path / name)
        sound = read_sound(path)
        # A bare aac stream has no place to say that its first 1024 samples are the coder's run-in.
        late = lag_of(sound.mono(), NOISE[:, 0])
        assert abs(late - (1024 if name == "a.aac" else 0)) <= 2
        assert sound.rate_hz == 48_000


def test_sound_of_a_film_has_the_length_that_ffprobe_gives(tmp_path):
    path = write(tmp_path / "a.mp4")
    samples = sum(probe(path, "a:0", "frame=nb_samples"))
    assert len(read_sound(path).samples) == samples


def test_slow_motion_is_put_back_to_life(tmp_path):
    path = write(tmp_path / "a.mp4", times=TIMES[:30], sound=None, metadata={"com.android.capture.fps": "240"})
    film = look_at_film(path)
    assert film.slowed == pytest.approx(8, rel=0.05)
    assert film.real_rate_hz == pytest.approx(240, rel=0.01)
    assert any("240" in note for note in map(say_reason, film.notes))
    assert look_at_film(path, slowed=1).slowed == 1


def test_what_pictures_can_time_is_the_spread_of_a_uniform_step():
    # SD of a uniform spread over a step of 33.3 ms: 33.3 / √12 = 9.6 ms (any book of statistics)
    said = say_reason(Reason(Why.PICTURE_RATE, (30.0,)))
    assert "33 ms" in said and "SD 10 ms" in said


def test_a_file_without_sound_or_without_picture_is_said_to_be_so(tmp_path):
    silent = look_at_film(write(tmp_path / "a.mp4", times=TIMES[:5], sound=None))
    assert not silent.has_sound
    with refused("no sound"):
        read_film_sound(silent)
    with refused("no sound"):
        read_sound(tmp_path / "a.mp4")
    with refused("no moving picture"):
        look_at_film(films.write_sound_only(tmp_path / "a.m4a", NOISE))


def test_a_still_is_no_film(tmp_path):
    import cv2

    cv2.imwrite(str(tmp_path / "a.png"), np.zeros((96, 160, 3), np.uint8))
    with refused("got a picture"):
        look_at_film(tmp_path / "a.png")
    film = look_at_film(write(tmp_path / "a.mp4", times=TIMES[:1], sound=None))
    with refused("one picture"):
        list(read_frames(film))


def test_what_is_no_film_gets_one_sentence(tmp_path):
    for content, words in (
        (b"", "empty"),
        (b"time,hand\n1,left\n" * 99, "got text"),
        (b"#EXTM3U\n#EXTINF:1,\nhttp://localhost/a.ts\n" * 9, "got text"),
        (b"\x00\x00\x00\x20ftypisom" + bytes(999), "damaged or cut short"),
    ):
        path = tmp_path / "film.mp4"
        path.write_bytes(content)
        with refused(words) as caught:
            look_at_film(path)
        assert str(path) in say_error(caught.value)
    with refused("no such file"):
        look_at_film(tmp_path / "gone.mp4")
    with refused("folder"):
        look_at_film(tmp_path)
    write_sound(tmp_path / "a.wav", Sound(NOISE, 48_000))
    with refused("no moving picture"):
        look_at_film(tmp_path / "a.wav")


def test_a_film_cut_short_is_read_as_far_as_it_goes_and_said(tmp_path):
    whole = write(tmp_path / "a.mkv").read_bytes()
    cut = tmp_path / "cut.mkv"
    cut.write_bytes(whole[: len(whole) // 2])
    said: list[str] = []
    film = look_at_film(cut)
    found = list(read_frames(film, warn=into(said)))
    assert 10 < len(found) < 80
    assert any("cut short" in sentence for sentence in said)
    mp4 = tmp_path / "cut.mp4"
    content = write(tmp_path / "a.mp4").read_bytes()
    mp4.write_bytes(content[: len(content) // 2])  # what says where everything lies stands at the end
    with refused("damaged or cut short"):
        look_at_film(mp4)


def test_a_film_of_hours_asks_for_a_window_before_it_is_read(tmp_path):
    path = write(tmp_path / "a.mkv", times=np.array([0.0, 1.0, 36_000.0]), sound=None)
    with refused("600 minutes") as caught:
        look_at_film(path)
    assert "--film-from and --film-to" in say_error(caught.value)
    assert look_at_film(path, start=0, end=60).end == 60
    with refused("600 minutes"):
        look_at_film(path, start=10)
    assert LONGEST >= 30 * 60


def test_a_window_that_makes_no_sense_is_refused(tmp_path):
    path = write(tmp_path / "a.mp4", times=TIMES[:5], sound=None)
    for start, end, words in ((2, 1, "ends after it begins"), (-1, 2, "ends after"), (9, 10, "the film ends at")):
        with refused(words):
            look_at_film(path, start=start, end=end)
    with refused("times slower"):
        look_at_film(path, slowed=0)


def test_without_the_decoder_one_sentence_says_what_to_install(tmp_path, monkeypatch):
    path = write(tmp_path / "a.mp4", times=TIMES[:5])
    monkeypatch.setitem(sys.modules, "av", None)
    for read in (look_at_film, read_sound, container.decode_sound):
        with refused(r"tempo_coach\[film\]"):
            read(path)

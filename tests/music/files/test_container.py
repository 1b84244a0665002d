"""Sound in films whose time stamps or headers are wrong."""

from __future__ import annotations

import fractions
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.music.files import blocks
from tempo_coach.music.files.container import decode_sound
from tests.conftest import skip_for_missing_part
from tests.refused import into

if TYPE_CHECKING:
    from pathlib import Path

RATE_HZ = 8000


def write(path: Path, starts: list[float], *, level: float | None = None) -> Path:
    """Tenths of a second of sound, each at its own second; with a level as floating-point samples of it."""
    try:
        import av
    except ImportError:
        skip_for_missing_part("the extra film")
    with av.open(str(path), "w") as container:
        codec, form = ("pcm_s16le", "s16") if level is None else ("pcm_f32le", "flt")
        stream = container.add_stream(codec, rate=RATE_HZ, layout="mono")
        for start in starts:
            shape = (1, RATE_HZ // 10)
            tenth = np.full(shape, 1000, np.int16) if level is None else np.full(shape, level, np.float32)
            frame = av.AudioFrame.from_ndarray(tenth, format=form, layout="mono")
            frame.sample_rate, frame.pts = RATE_HZ, round(start * RATE_HZ)
            frame.time_base = fractions.Fraction(1, RATE_HZ)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def test_a_stretch_without_sound_is_silence_and_what_follows_keeps_its_time(tmp_path):
    sound, begin = decode_sound(write(tmp_path / "x.mkv", [0, 0.1, 2.0, 2.1]))
    heard = np.flatnonzero(sound.mono()) / sound.rate_hz
    assert begin == 0 and sound.duration == pytest.approx(2.2, abs=0.002)
    assert not ((heard > 0.202) & (heard < 1.998)).any() and (heard > 2).sum() == pytest.approx(1600, abs=16)


def test_a_time_stamp_that_is_hours_ahead_is_said_and_fills_no_memory(tmp_path):
    said: list[str] = []
    sound, _ = decode_sound(write(tmp_path / "x.mkv", [0, 0.1, 90_000.0, 90_000.1]), warn=into(said))
    assert sound.duration == pytest.approx(0.2, abs=0.002)
    assert len(said) == 1 and "damaged or cut short" in said[0]


@pytest.mark.parametrize("kind", ["mkv", "mov"])
@pytest.mark.parametrize("mapped", [True, False])
def test_samples_that_are_no_numbers_are_silence_also_in_a_long_film(tmp_path, monkeypatch, mapped, kind):
    monkeypatch.setattr(blocks, "MAPPED_FROM", 0 if mapped else 1 << 20)
    sound, _ = decode_sound(write(tmp_path / f"x.{kind}", [0, 0.1], level=float("nan")))
    assert isinstance(sound.samples, np.memmap) is mapped
    assert sound.duration == pytest.approx(0.2, abs=0.002)
    assert not sound.samples.any()

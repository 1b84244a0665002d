"""FluidSynth by its C library: notes in seconds to samples, from a General MIDI sound font."""

from __future__ import annotations

import ctypes
import ctypes.util
import os
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

RATE_HZ = 44100
DRUMS = 128  # the program number that stands for the drum channel


class Font:
    """A sound font, loaded once; processes forked afterwards share its samples."""

    def __init__(self, path: Path, *, rate_hz: float = RATE_HZ) -> None:
        name = os.environ.get("FLUIDSYNTH") or ctypes.util.find_library("fluidsynth") or "libfluidsynth.so.3"
        self._lib = lib = ctypes.CDLL(name)
        lib.new_fluid_settings.restype = lib.new_fluid_synth.restype = ctypes.c_void_p
        lib.fluid_settings_setnum.argtypes = [ctypes.c_void_p, ctypes.c_char_p, ctypes.c_double]
        lib.fluid_settings_setint.argtypes = [ctypes.c_void_p, ctypes.c_char_p, ctypes.c_int]
        lib.new_fluid_synth.argtypes = [ctypes.c_void_p]
        settings = lib.new_fluid_settings()
        for key, number in ((b"synth.gain", 0.25), (b"synth.sample-rate", float(rate_hz))):
            lib.fluid_settings_setnum(settings, key, number)
        for key, whole in ((b"synth.reverb.active", 0), (b"synth.chorus.active", 0), (b"synth.polyphony", 160)):
            lib.fluid_settings_setint(settings, key, whole)
        self._synth = ctypes.c_void_p(lib.new_fluid_synth(settings))
        if lib.fluid_synth_sfload(self._synth, str(path).encode(), 1) < 0:
            raise OSError(f"no sound font at {path}")
        lib.fluid_synth_set_interp_method(self._synth, -1, 4)
        self.rate_hz = rate_hz

    def play(
        self,
        programs: list[int],
        notes: list[tuple[float, float, int, int, int]],
        seconds: float,
        *,
        pedal: list[tuple[float, int, int]] | None = None,
    ) -> NDArray[np.float32]:
        """Return one channel of samples for notes of (start, end, pitch, velocity, part).

        Part ``i`` plays ``programs[i]``; `DRUMS` is the drum kit. `pedal` holds (time, part, on or off).
        """
        lib, synth = self._lib, self._synth
        lib.fluid_synth_system_reset(synth)
        quiet = np.zeros(8192, np.float32).ctypes.data_as(ctypes.c_void_p)
        lib.fluid_synth_write_float(synth, 8192, quiet, 0, 1, quiet, 0, 1)  # what still sounds dies away
        channels: list[int] = []
        free = [c for c in range(16) if c != 9]
        for program in programs:
            channel = 9 if program == DRUMS else free.pop(0)
            channels.append(channel)
            if program != DRUMS:
                lib.fluid_synth_program_change(synth, channel, program)
        total = round(seconds * self.rate_hz)
        events: list[tuple[int, int, int, int, int]] = []
        for start, end, pitch, velocity, part in notes:
            events.append((round(start * self.rate_hz), 1, channels[part], pitch, velocity))
            events.append((round(max(end, start + 0.03) * self.rate_hz), 0, channels[part], pitch, 0))
        for when, part, on in pedal or []:
            events.append((round(when * self.rate_hz), 2, channels[part], 64, 127 if on else 0))
        events.sort()
        left = np.zeros(total, np.float32)
        right = np.zeros(total, np.float32)
        pl, pr = (a.ctypes.data_as(ctypes.c_void_p) for a in (left, right))
        at = 0
        for when, kind, channel, pitch, value in events:
            if when >= total:
                break
            if when > at + 32:
                lib.fluid_synth_write_float(synth, when - at, pl, at, 1, pr, at, 1)
                at = when
            if kind == 1:
                lib.fluid_synth_noteon(synth, channel, pitch, value)
            elif kind == 0:
                lib.fluid_synth_noteoff(synth, channel, pitch)
            else:
                lib.fluid_synth_cc(synth, channel, pitch, value)
        lib.fluid_synth_write_float(synth, total - at, pl, at, 1, pr, at, 1)
        return (left + right) * np.float32(0.5)


def measure_attack(font: Font, program: int) -> float:
    """Return how long after its beginning a note of a program is heard to start, in seconds, 0 to 0.07.

    Heard is taken as the moment at which the smoothed level passes a quarter of what it reaches within 0.5 s,
    less what a plucked string needs for it: close to where listeners put slow attacks (perceptual attack time, Gordon
    1987; from memory).
    """
    found = []
    for pitch in (50, 62, 74):
        sound = np.abs(font.play([program], [(0.0, 0.8, pitch, 88, 0)], 0.7))
        width = round(0.008 * font.rate_hz)
        level = np.convolve(sound**2, np.ones(width) / width)[: len(sound)] ** 0.5
        peak = level[: round(0.5 * font.rate_hz)].max()
        if peak > 1e-5:
            found.append(np.argmax(level > 0.25 * peak) / font.rate_hz)
    delay = float(np.median(found)) if found else 0.0
    return min(max(delay - 0.008, 0.0), 0.07)

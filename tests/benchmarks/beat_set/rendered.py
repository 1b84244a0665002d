"""Music as heard: played notes to a flac file by FluidSynth and a General MIDI sound font, with its beats beside it."""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np

    from tests.benchmarks.beat_set.played import Played

#: Debian's fluid-soundfont-gm and musescore-general-soundfont-small put them here.
FONTS = [Path("/usr/share/sounds/sf2/FluidR3_GM.sf2"), Path("/usr/share/sounds/sf3/MuseScore_General_Lite.sf3")]
#: Debian's timgm6mb-soundfont: no training has heard it.
HELD_OUT = [Path("/usr/share/sounds/sf2/TimGM6mb.sf2")]
_TICKS = 10_000  # a tick is 50 µs at mido's 120 a minute


@dataclass(frozen=True)
class Piece:
    """One piece of the set: its sound file and what is true of it."""

    name: str
    kind: str
    sound: Path
    beats: np.ndarray
    ones: np.ndarray
    pauses: np.ndarray
    has_onsets: bool
    eights: np.ndarray


def render(
    played: Played, sound: Path, *, gain: float = 0.5, rate_hz: int = 44_100, fonts: Sequence[Path] = FONTS
) -> None:
    """Write the music as sound (flac), played by the first of the fonts that is there."""
    program = shutil.which("fluidsynth")
    font = next((each for each in fonts if each.exists()), None)
    if program is None or font is None:
        raise SystemExit("the development set needs FluidSynth and a sound font: apt-get install fluidsynth")
    midi = sound.with_suffix(".mid")
    _write_midi(played, midi)
    subprocess.run(
        [
            program,
            "-ni",
            "-q",
            "-g",
            str(gain),
            "-r",
            str(rate_hz),
            "-T",
            "flac",
            "-F",
            str(sound),
            str(font),
            str(midi),
        ],
        check=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    midi.unlink()


def _write_midi(played: Played, path: Path) -> None:
    import mido

    messages = [(0.0, 0, mido.Message("program_change", channel=c, program=p)) for c, p in played.programs.items()]
    for start, end, pitch, velocity, channel in played.notes:
        messages.append((start, 2, mido.Message("note_on", channel=channel, note=pitch, velocity=velocity)))
        messages.append((end, 1, mido.Message("note_off", channel=channel, note=pitch)))
    messages.sort(key=lambda each: each[:2])
    file = mido.MidiFile(ticks_per_beat=_TICKS)
    line = mido.MidiTrack()
    file.tracks.append(line)
    now = 0
    for time, _, message in messages:
        tick = round(time * 2 * _TICKS)
        line.append(message.copy(time=max(0, tick - now)))
        now = max(now, tick)
    file.save(path)

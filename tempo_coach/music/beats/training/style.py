"""Some thirty ways of making music, each as bars of a small grid; the composer bends them at random.

A drum line is one bar: ``x`` a stroke, ``o`` a soft one, ``?`` one that comes now and then. A bass line has ``R``
root, ``5`` fifth, ``3`` third, ``8`` octave, ``w`` a step on the way, ``-`` hold. An accompaniment has ``X``
accented, ``x``, ``h`` a held chord, ``b`` its lowest note alone, ``a`` the next note of a broken chord. All are
common practice of their kind, written down from memory.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Style:
    """One way of making music: beats in a bar, parts of a beat, tempo range, and its lines to choose from."""

    beats: int
    split: int
    tempo: tuple[float, float]
    bass: tuple[str, ...]
    comp: tuple[str, ...]
    drums: tuple[dict[str, str], ...] = ()
    swing: tuple[float, float] = (0.5, 0.5)
    bands: tuple[str, ...] = ("pop",)
    density: tuple[float, float] = (0.25, 0.6)
    free: float = 0.2
    weight: float = 1.0
    solo: bool = False
    only_drums: bool = False


BANDS: dict[str, dict[str, tuple[int, ...]]] = {
    "pop": {
        "bass": (32, 33, 34, 35, 36, 38, 39, 201),
        "comp": (0, 1, 4, 5, 16, 24, 25, 26, 27, 28, 29, 202, 203, 2),
        "pad": (48, 50, 51, 52, 88, 89, 90, 91, 94, 95, 204, 18),
        "melody": (0, 4, 11, 22, 26, 56, 62, 65, 66, 73, 80, 81, 82, 200, 200, 200, 205, 53, 54, 30, 40),
    },
    "jazz": {
        "bass": (32, 32, 33, 35, 43),
        "comp": (0, 0, 4, 11, 26, 16, 24, 1),
        "pad": (48, 16, 60, 61),
        "melody": (56, 57, 59, 64, 65, 66, 67, 71, 0, 11, 26, 73, 200, 22),
    },
    "orchestra": {
        "bass": (43, 43, 42, 58, 57, 70, 45),
        "comp": (48, 45, 46, 60, 61, 0, 6, 68, 71, 49, 69),
        "pad": (48, 49, 50, 52, 60, 61, 19, 92),
        "melody": (40, 41, 42, 48, 56, 57, 60, 68, 69, 71, 73, 72, 110, 200, 52, 9, 14, 46, 70),
    },
    "strings": {
        "bass": (43, 42, 48),
        "comp": (48, 49, 45, 41, 44),
        "pad": (48, 49, 50, 44),
        "melody": (40, 41, 42, 48, 44, 40),
    },
    "piano": {"bass": (0,), "comp": (0,), "pad": (0,), "melody": (0,)},
    "folk": {
        "bass": (32, 43, 21, 42, 25, 58),
        "comp": (21, 24, 25, 21, 15, 105, 22, 46, 0, 20),
        "pad": (21, 48, 109, 20, 23),
        "melody": (21, 22, 40, 72, 73, 74, 75, 79, 105, 110, 109, 111, 104, 200, 71, 68, 15, 107),
    },
    "machine": {
        "bass": (38, 39, 87, 201, 201, 36),
        "comp": (202, 203, 62, 63, 80, 81, 90, 4, 5, 84, 202),
        "pad": (88, 89, 90, 94, 95, 204, 50, 51, 204),
        "melody": (80, 81, 82, 83, 84, 85, 86, 205, 205, 200, 87, 98, 0),
    },
    "brass": {
        "bass": (58, 57, 70, 43),
        "comp": (60, 61, 57, 56, 69),
        "pad": (60, 61, 71),
        "melody": (56, 56, 60, 71, 72, 73, 57, 64, 65),
    },
    "legato": {
        "bass": (42, 43, 48, 49, 58),
        "comp": (48, 49, 50, 51, 44, 52, 60, 89, 204),
        "pad": (48, 49, 50, 51, 52, 89, 92, 95, 204),
        "melody": (40, 41, 42, 48, 49, 68, 69, 71, 73, 52, 53, 60, 200, 110),
    },
    "voices": {
        "bass": (200, 52, 53),
        "comp": (52, 53, 54, 52),
        "pad": (52, 53),
        "melody": (200, 200, 200, 53, 54, 85),
    },
    "bells": {
        "bass": (12, 0, 46, 11),
        "comp": (8, 9, 10, 11, 12, 13, 14, 46, 108, 114),
        "pad": (88, 52, 92, 48),
        "melody": (8, 9, 10, 11, 12, 13, 73, 79, 75, 108),
    },
}
"""General MIDI programs by role; from 200 on the voices of our own (`voices`)."""

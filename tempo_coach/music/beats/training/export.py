"""Trained weights put into the package, each number by its three upper bytes."""

from __future__ import annotations

from pathlib import Path

import numpy as np

import tempo_coach.music.beats

PLACE = Path(tempo_coach.music.beats.__file__).parent / "weights" / "beats.npz"


def pack(numbers: np.ndarray) -> np.ndarray:
    """Return float32 numbers as three bytes each, shape (..., 3): rounded to 15 bits of fraction."""
    bits = np.ascontiguousarray(numbers, "<f4").view("<u4").astype(np.uint64) + 0x80
    return np.ascontiguousarray(bits.astype("<u4")[..., None].view(np.uint8)[..., 1:])


def export(weights: Path, *, place: Path = PLACE) -> None:
    """Write the package's file of weights from what training wrote, and say how large it is."""
    place.parent.mkdir(exist_ok=True)
    with np.load(weights) as trained:
        np.savez_compressed(place, **{name: pack(trained[name]) for name in trained.files})  # type: ignore[arg-type, unused-ignore]
    print(f"{place}: {place.stat().st_size / 1e6:.3f} MB")

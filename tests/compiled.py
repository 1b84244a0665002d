"""Functions of librosa that tests use, compiled once for all processes of a gate: ``python -m tests.compiled FOLDER``.

Compiling takes half a minute of a core, in each process anew, since two that fill one store at once can crash. So one
process fills a store while the types are checked, and each process of the tests takes a copy of it.
"""

from __future__ import annotations

import os
import sys

#: Where the gate says which folder the store is.
STORE = "TEMPO_COACH_COMPILED"


def fill(folder: str) -> None:
    """Let librosa stretch and find onsets, with its compiled functions kept in a folder."""
    os.environ["NUMBA_CACHE_DIR"] = folder
    import librosa
    import numpy as np

    sound = np.random.default_rng(0).normal(size=24_000).astype(np.float32)
    librosa.effects.time_stretch(sound[np.newaxis], rate=0.8)
    librosa.onset.onset_detect(y=sound, sr=48_000, units="time")


if __name__ == "__main__":
    fill(sys.argv[1])

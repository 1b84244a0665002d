"""What all processes of a gate need compiled, made once: ``python -m tests.compiled FOLDER``.

Functions of librosa take half a minute of a core, in each process anew, since two that fill one store at once can
crash. So one process fills a store while the types are checked, and each process of the tests takes a copy of it. Then
it collects the tests: pytest keeps the modules whose assertions it rewrote, which the others read instead of rewriting
all of them at once, a quarter of a minute each.
"""

from __future__ import annotations

import os
import subprocess
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


def collect() -> None:
    """Let pytest rewrite every module of the tests."""
    words = [sys.executable, "-m", "pytest", "--collect-only", "-qq"]
    subprocess.run(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False)


if __name__ == "__main__":
    fill(sys.argv[1])
    collect()

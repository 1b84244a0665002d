"""What all processes of a gate need, made once: ``python -m tests.compiled FOLDER``.

Functions of librosa take half a minute of a core, in each process anew, since two that fill one store at once can
crash. So one process fills a store while the types are checked, and each process of the tests takes a copy of it. Then
it collects the tests: pytest keeps the modules whose assertions it rewrote, which the others read instead of rewriting
all of them at once, a quarter of a minute each. The demo's music is composed here too, and what one process of the
tests has found in music or in a film is left to the others.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable

Made = TypeVar("Made")

#: Where the gate says which folder the store is.
STORE = "TEMPO_COACH_COMPILED"


def fetch(name: str, make: Callable[[], Made]) -> Made:
    """Return what another process of this gate has made already, or make it and leave it to them."""
    if not os.environ.get(STORE):
        return make()
    path = Path(os.environ[STORE]) / f"{name}.pickle"
    if path.exists():
        kept: Made = pickle.loads(path.read_bytes())
        return kept
    made = make()
    beside = path.with_suffix(f".{os.getpid()}")
    beside.write_bytes(pickle.dumps(made))
    beside.replace(path)
    return made


def fill(folder: str) -> None:
    """Let librosa stretch and find onsets, with its compiled functions kept in a folder, and compose the music."""
    os.environ["NUMBA_CACHE_DIR"] = os.environ[STORE] = folder
    os.environ["NUMBA_OPT"] = "0"  # they are used for a second: optimised, they take a third longer to make
    import librosa
    import numpy as np

    sound = np.random.default_rng(0).normal(size=24_000).astype(np.float32)
    librosa.effects.time_stretch(sound[np.newaxis], rate=0.8)
    librosa.onset.onset_detect(y=sound, sr=48_000, units="time")
    from tests.generators.workplace import invented_music

    invented_music()


def collect() -> None:
    """Let pytest rewrite every module of the tests."""
    words = [sys.executable, "-m", "pytest", "--collect-only", "-qq"]
    subprocess.run(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False)


if __name__ == "__main__":
    fill(sys.argv[1])
    collect()

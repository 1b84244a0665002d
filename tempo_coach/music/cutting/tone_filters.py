"""Filters of tones: the constant-Q kernels of librosa as spectra, made once and shipped beside this module.

``python -m tempo_coach.music.cutting.tone_filters`` makes the file again. It alone imports librosa, which loads a
compiler; whoever hears a key multiplies by what came of it.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

#: Rate at which tones are heard (Hz), and samples of a window: 0.37 s, shorter than the kernels of the lowest thirds of
#: tones (0.40 s), whose ends are cut.
HEARD_HZ, WINDOW = 11_025, 4096
#: Kernels a semitone, the lowest note, and octaves: below, semitones lie closer than the window tells apart; above are
#: partials.
THIRDS, LOWEST_MIDI, OCTAVES = 3, 48, 4
#: Share of a kernel's highest value below which its spectrum is left out.
_LEAST = 0.01
_FILE = Path(__file__).with_name("tone_filters.npz")


class ToneFilters(NamedTuple):
    """Kernels as the values of their spectra that are not small.

    Attributes
    ----------
    kernel, bin : numpy.ndarray of int, shape (n,)
        Which of the ``12 * THIRDS * OCTAVES`` kernels, from the lowest C up, and which of the ``WINDOW // 2 + 1`` bins.
    value : numpy.ndarray of complex64, shape (n,)
    """

    kernel: NDArray[np.int64]
    bin: NDArray[np.int64]
    value: NDArray[np.complex64]

    def as_matrix(self) -> NDArray[np.complex64]:
        """Return them as a matrix, shape (bins, kernels)."""
        out = np.zeros((WINDOW // 2 + 1, 12 * THIRDS * OCTAVES), dtype=np.complex64)
        out[self.bin, self.kernel] = self.value
        return out


def make_filters() -> ToneFilters:
    """Compute the kernels with librosa."""
    from librosa.filters import wavelet

    number = 12 * THIRDS * OCTAVES
    # the middle one of each semitone's kernels lies on it
    hz = 440 * 2 ** ((LOWEST_MIDI - 69) / 12 + (np.arange(number) - THIRDS // 2) / (12 * THIRDS))
    kernels, _ = wavelet(freqs=hz, sr=HEARD_HZ, pad_fft=False)
    beyond = max(0, kernels.shape[1] - WINDOW)
    kernels = kernels[:, beyond // 2 : kernels.shape[1] - (beyond - beyond // 2)]
    short = WINDOW - kernels.shape[1]
    kernels = np.pad(kernels, ((0, 0), (short // 2, short - short // 2)))
    spectra = np.fft.fft(kernels, axis=1)[:, : WINDOW // 2 + 1].conj()
    size = np.abs(spectra)
    kernel, at = np.nonzero(size > _LEAST * size.max(axis=1, keepdims=True))
    return ToneFilters(kernel, at, spectra[kernel, at].astype(np.complex64))


@cache
def load_filters() -> NDArray[np.complex64]:
    """Return the shipped kernels as a matrix, shape (bins, kernels)."""
    with np.load(_FILE) as kept:
        return ToneFilters(kept["kernel"], kept["bin"], kept["value"]).as_matrix()


if __name__ == "__main__":
    made = make_filters()
    np.savez_compressed(_FILE, kernel=made.kernel.astype(np.uint8), bin=made.bin.astype(np.uint16), value=made.value)

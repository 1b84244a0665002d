"""Shipped kernels against librosa's, which made them, and a tone on each of them."""

import numpy as np

from tempo_coach.music.cutting.tone_filters import (
    HEARD_HZ,
    LOWEST_MIDI,
    OCTAVES,
    THIRDS,
    WINDOW,
    load_filters,
    make_filters,
)


def test_what_is_shipped_is_what_librosa_makes():
    shipped, made = load_filters(), make_filters().as_matrix()
    assert shipped.shape == (WINDOW // 2 + 1, 12 * THIRDS * OCTAVES)
    size = np.abs(made).max()
    # what is at the edge of being left out may fall on either side in another version
    assert np.abs(shipped - made).max() < 0.011 * size
    assert np.mean(np.abs(shipped - made)) < 1e-6 * size


def test_a_tone_is_strongest_on_the_kernel_of_its_note():
    t = np.arange(WINDOW) / HEARD_HZ
    for note in range(12 * OCTAVES):
        hz = 440 * 2 ** ((LOWEST_MIDI + note - 69) / 12)  # equal temperament, A 440
        heard = np.abs(np.fft.rfft(np.sin(2 * np.pi * hz * t)) @ load_filters())
        assert int(heard.argmax()) == THIRDS * note + THIRDS // 2

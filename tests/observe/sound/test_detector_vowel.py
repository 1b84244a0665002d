"""Where a word is felt to begin: the rise of its vowel, not its first hiss."""

from itertools import pairwise

import numpy as np
import pytest

from tempo_coach.observe.sound.detector import find_vowel

RATE = 22_050


def syllable(hiss: float, rise: float = 0.02, *, formants: tuple[float, ...] = (700, 1200, 2500)) -> np.ndarray:
    """A hiss above 4 kHz, then a vowel with a pitch of 120 Hz that rises in so many seconds."""
    from scipy.signal import butter, lfilter, sosfilt

    rng = np.random.default_rng(5)
    hissing = sosfilt(butter(4, 4500, btype="highpass", fs=RATE, output="sos"), rng.normal(size=round(hiss * RATE)))
    n = round(0.25 * RATE)
    pulses = np.zeros(n)
    pulses[:: RATE // 120] = 1
    for formant in formants:
        radius = np.exp(-np.pi * 80 / RATE)
        pulses = lfilter([1], [1, -2 * radius * np.cos(2 * np.pi * formant / RATE), radius**2], pulses)
    vowel = pulses / np.abs(pulses).max() * np.minimum(np.arange(n) / (rise * RATE), 1)
    return np.concatenate([0.3 * hissing / max(np.abs(hissing).max(initial=0.0), 1e-9), vowel])


@pytest.mark.parametrize("hiss", [0.03, 0.1, 0.18])
@pytest.mark.parametrize("formants", [(700, 1200, 2500), (280, 2250, 2900), (310, 870, 2250)])
def test_it_is_the_vowel_whatever_hisses_before_it(hiss, formants):
    """Formants of a, i and u of men (Peterson & Barney 1952, rounded, from memory)."""
    found = find_vowel(syllable(hiss, formants=formants), RATE) / RATE
    assert found == pytest.approx(hiss + 0.01, abs=0.015)


def test_a_longer_consonant_moves_the_place_by_its_length():
    places = [find_vowel(syllable(hiss), RATE) for hiss in (0.05, 0.1, 0.15)]
    assert [b - a for a, b in pairwise(places)] == pytest.approx([0.05 * RATE] * 2, abs=0.004 * RATE)


def test_loudness_and_silence_before_it_do_not_matter():
    word = syllable(0.08)
    place = find_vowel(word, RATE)
    assert find_vowel(0.01 * word, RATE) == place
    assert find_vowel(np.concatenate([np.zeros(4410), word]), RATE) == pytest.approx(place + 4410, abs=2)


@pytest.mark.parametrize("samples", [np.zeros(0), np.zeros(100), np.zeros(1)])
def test_silence_begins_at_once(samples):
    assert find_vowel(samples, RATE) == 0


def test_one_loud_sample_is_no_trouble():
    assert 0 <= find_vowel(np.array([0.0, 1.0, 0.0]), RATE) < 3

"""The network that hears beats: equal to the trained one, whole at seams, honest when it cannot be had."""

from math import gcd
from pathlib import Path

import numpy as np
import pytest
from scipy.signal import resample_poly

from tempo_coach.music.beats import network
from tempo_coach.music.beats.features import FRAME_HZ
from tempo_coach.music.beats.finder import find_beats
from tempo_coach.music.beats.network import BANDS_HZ
from tempo_coach.music.files.sound import Sound
from tempo_coach.report.words.errors import say_error
from tests.refused import into, refused

HERE = Path(__file__).parent
RATE_HZ = 22_050


def play_drums(beats, *, seconds, rate_hz=RATE_HZ, bar=4):
    """A thump on each beat, deeper on ones, a hiss between, a chord held over each bar: a plain bit of music."""
    rng = np.random.default_rng(3)
    samples = np.zeros(int(seconds * rate_hz))
    t = np.arange(int(0.15 * rate_hz)) / rate_hz
    hiss = rng.normal(0, 0.25, len(t)) * np.exp(-t / 0.02)
    strokes = [(middle, 0.4 * hiss) for middle in (beats[1:] + beats[:-1]) / 2]
    for number, beat in enumerate(beats):
        first = number % bar == 0
        thump = np.sin(2 * np.pi * (60 if first else 190) * t) * np.exp(-t / 0.05)
        strokes.append((beat, thump * (0.9 if first else 0.6) + hiss * (0.6 if number % 2 else 0.1)))
    for start, sound in strokes:
        at = round(start * rate_hz)
        samples[at : at + len(sound)] += sound[: len(samples) - at]
    for number, one in enumerate(beats[::bar]):
        span = np.arange(int(min(1.9, seconds - one) * rate_hz)) / rate_hz
        chord = sum(np.sin(2 * np.pi * 220 * 2 ** (n / 12) * span) for n in ((0, 4, 7), (5, 9, 12))[number % 2])
        samples[round(one * rate_hz) : round(one * rate_hz) + len(span)] += 0.05 * chord * np.exp(-span)
    return 0.3 * samples


def bending(seconds, period=0.5):
    times = [0.8]
    while times[-1] < seconds - 1:
        times.append(times[-1] + period * (1 + 0.06 * np.sin(times[-1] / 6)))
    return np.array(times)


def test_the_forward_pass_is_that_of_the_trained_network():
    # what the trained network says in PyTorch, float64, to 500 frames; written at the training's end
    with np.load(HERE / "beat_reference.npz") as reference:
        beats, tempi = network.run(network.load(), np.asarray(reference["shown"], np.float32) / np.float32(85))
        assert np.abs(beats - reference["beats"]).max() < 1e-4
        assert np.abs(tempi - reference["tempi"]).max() < 1e-4


def test_the_weights_are_small_and_say_what_they_were_made_from():
    folder = Path(network.__file__).parent / "weights"
    assert (folder / "beats.npz").stat().st_size < 1_500_000
    assert "sound fonts" in (folder / "LICENSE").read_text()


def test_beats_and_ones_of_music_that_bends_are_found():
    true = bending(40)
    found = find_beats(Sound(play_drums(true, seconds=40)[:, None], RATE_HZ))
    nearest = np.abs(found.times[:, None] - true).min(axis=0)
    assert (nearest < 0.035).mean() > 0.9  # half of mir_eval's window for a beat
    assert np.median(nearest) < 0.010
    ones = found.times[found.bar == 1]
    assert (np.abs(ones[:, None] - true[::4]).min(axis=0) < 0.07).mean() > 0.8
    assert found.rests == ()


def test_silence_and_a_single_click_are_heard_as_no_music():
    click = np.zeros(RATE_HZ * 10)
    click[RATE_HZ * 5] = 0.5
    for samples in (np.zeros(RATE_HZ * 10), click):
        heard = network.hear(samples, RATE_HZ)
        assert (heard.beat > 0.3).sum() < 5
        assert np.isfinite(heard.tempo).all()


@pytest.mark.parametrize("samples", [1, 100, 219, 220, 5000])
def test_a_sound_of_any_length_is_heard(samples):
    heard = network.hear(np.full(samples, 0.1), RATE_HZ)
    assert len(heard.beat) == len(heard.downbeat) == len(heard.tempo) == 1 + samples // 220
    np.testing.assert_allclose(heard.tempo.sum(axis=1), 1, atol=1e-5)


@pytest.mark.parametrize("rate_hz", [8000, 44_100, 48_000, 192_000])
def test_every_rate_and_number_of_channels_is_heard_alike(rate_hz):
    true = bending(12)
    mono = play_drums(true, seconds=12, rate_hz=rate_hz)
    heard = network.hear(np.stack([mono, mono], axis=1), rate_hz)
    peaks = (
        np.flatnonzero(
            (heard.beat[1:-1] > 0.3) & (heard.beat[1:-1] >= heard.beat[:-2]) & (heard.beat[1:-1] > heard.beat[2:])
        )
        + 1
    )
    assert abs(len(heard.beat) - 12 * RATE_HZ / 220) < 2
    assert (np.abs(peaks[:, None] / FRAME_HZ - true).min(axis=0) < 0.035).mean() > 0.7


def test_the_level_does_not_matter():
    samples = play_drums(bending(10), seconds=10)
    np.testing.assert_allclose(
        network.hear(samples, RATE_HZ).beat, network.hear(samples * 1e-3, RATE_HZ).beat, atol=1e-3
    )


def test_heard_in_pieces_is_heard_whole(monkeypatch):
    samples = play_drums(bending(65), seconds=65, rate_hz=44_100)
    whole = network.hear(samples, 44_100)
    done = []
    monkeypatch.setattr(network, "_PIECE", network._ROUND)
    pieces = network.hear(samples, 44_100, progress=done.append)
    assert len(done) == 3
    assert done[-1] == 1
    assert (np.diff(done) > 0).all()
    # Here a piece sees 44 s around it, all that matters; only the resampler's rounding differs.
    np.testing.assert_allclose(pieces.beat, whole.beat, atol=2e-3)
    np.testing.assert_allclose(pieces.tempo, whole.tempo, atol=2e-3)
    np.testing.assert_allclose(pieces.tones, whole.tones, atol=0.01 * float(whole.tones.max()))


@pytest.mark.parametrize(("hz", "semitone"), [(440.0, 0), (261.63, 3), (1174.66, 5)])
def test_the_chroma_names_what_sounds(hz, semitone):
    # equal temperament about A = 440 Hz (ISO 16)
    samples = np.sin(2 * np.pi * hz * np.arange(3 * RATE_HZ) / RATE_HZ).astype(np.float32)
    tones = network.fold(network.show(samples, 0.1, 0, 280)[:, :, 0])
    assert tones.shape == (280 // network.TONE_EVERY, 12)
    assert (tones[2:-2].argmax(axis=1) == semitone).all()


def test_what_lies_beyond_the_reach_changes_nothing():
    rng = np.random.default_rng(0)
    shown = rng.uniform(0, 1, (network.CONTEXT_FRAMES + 200, len(BANDS_HZ), 2)).astype(np.float32)  # 43 s of hiss
    other = shown.copy()
    other[-100:] = 0
    weights = network.load()
    ones, tempi = network.run(weights, shown)
    changed, tempi_changed = network.run(weights, other)
    np.testing.assert_array_equal(np.round(ones[:90], 5), np.round(changed[:90], 5))
    np.testing.assert_array_equal(np.round(tempi[:90], 5), np.round(tempi_changed[:90], 5))
    assert np.abs(ones[-150:] - changed[-150:]).max() > 1e-3


@pytest.mark.parametrize("harm", ["missing", "empty", "cut", "text", "a name", "a shape"])
def test_missing_or_damaged_weights_are_said_in_one_sentence(harm, tmp_path):
    path = tmp_path / "beats.npz"
    good = (Path(network.__file__).parent / "weights" / "beats.npz").read_bytes()
    with np.load(Path(network.__file__).parent / "weights" / "beats.npz") as stored:
        arrays = dict(stored)
    if harm == "empty":
        path.write_bytes(b"")
    elif harm == "cut":
        path.write_bytes(good[: len(good) // 2])
    elif harm == "text":
        path.write_text("not weights")
    elif harm == "a name":
        del arrays["block4.wide"]
        np.savez(path, **arrays)
    elif harm == "a shape":
        arrays["join"] = arrays["join"][:-1]
        np.savez(path, **arrays)
    with refused("missing or damaged") as caught:
        network.load(path)
    assert str(path) in say_error(caught.value)
    assert "install tempo_coach again" in say_error(caught.value)


def test_a_flipped_byte_is_noticed(tmp_path):
    good = bytearray((Path(network.__file__).parent / "weights" / "beats.npz").read_bytes())
    good[len(good) // 2] ^= 0xFF
    path = tmp_path / "beats.npz"
    path.write_bytes(good)
    with refused("missing or damaged"):
        network.load(path)


def test_without_weights_beats_are_still_found_and_it_is_said(tmp_path, monkeypatch):
    true = bending(20)
    sound = Sound(play_drums(true, seconds=20)[:, None], RATE_HZ)
    monkeypatch.setattr(network, "_WEIGHTS", tmp_path / "gone.npz")
    said = []
    fallen_back = find_beats(sound, warn=into(said))
    assert len(said) == 1
    assert "missing or damaged" in said[0]
    np.testing.assert_array_equal(fallen_back.times, find_beats(sound, use_network=False).times)
    find_beats(sound, use_network=False, warn=into(said))
    assert len(said) == 1


@pytest.mark.parametrize(
    "samples", [np.zeros(0), np.zeros((2, 2, 2)), np.array([0.1, np.nan, 0.1]), np.full(500, np.inf)]
)
def test_what_is_no_sound_is_refused(samples):
    with pytest.raises(ValueError, match="expected"):
        network.hear(samples, RATE_HZ)


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000, 32_000, 11_025, 8_000, 22_051])
@pytest.mark.parametrize("size", [1, 40, 30_001])
def test_samples_at_the_networks_rate_are_those_of_scipys_filter(rate_hz, size):
    """The network was trained on music that scipy.signal.resample_poly had brought to its rate."""
    samples = np.random.default_rng(size).normal(size=size).astype(np.float32)
    common = gcd(rate_hz, network.HEARD_HZ)
    same = resample_poly(samples, network.HEARD_HZ // common, rate_hz // common)
    np.testing.assert_allclose(network.to_mono(samples, rate_hz), same, atol=4e-6)

"""The played music is taken out of a recording, whatever the clocks do; the filter is that of scipy's lstsq."""

from functools import cache

import numpy as np
import pytest

from tempo_coach.music.files.sound import Sound
from tempo_coach.observe.sound.residual import RATE_HZ, Residual, refine_line, remove_played, wiener_filter
from tempo_coach.observe.take.clock import ClockLine
from tests.generators import contacts, hall

R = contacts.RATE_HZ


@cache
def tune() -> np.ndarray:
    return 0.5 * hall.tune(4, 14, rate_hz=R)


@cache
def recorded(ppm: float = 0.0, *, pumping_db: float = 0.0) -> contacts.Recorded:
    """The tune alone through a room."""
    return contacts.record("clap", tune(), np.zeros(0), 5, ppm=ppm, pumping_db=pumping_db)


def sound(wave: np.ndarray) -> Sound:
    return Sound(wave[:, np.newaxis] if wave.ndim == 1 else wave, R)


def line(rate: float = 1.0, off: float = 0.0) -> ClockLine:
    return ClockLine(recorded().before, off, rate, 0.0, 2)


def removed_db(found: Residual) -> float:
    """Attenuation in decibels: the power before over the power after."""
    before, after = (float(np.mean(wave**2)) if len(wave) else 0.0 for wave in (found.wave + found.played, found.wave))
    return 10 * float(np.log10(before / after)) if before > 0 and after > 0 else 0.0


@pytest.mark.parametrize(("ppm", "said", "off"), [(0, 0, 0), (100, 0, 0), (-150, 100, 0.003), (0, 0, -0.004)])
def test_what_was_played_is_taken_out_whatever_the_clocks_do(ppm, said, off):
    """The line may be off by some milliseconds and some hundred millionths: it is made finer. Hiss lies 35 dB below."""
    made = recorded(float(ppm))
    found = remove_played(sound(made.recording), sound(tune()), line(1 - said * 1e-6, off))
    assert removed_db(found) > 28
    np.testing.assert_allclose(found.wave + found.played, remove_played(sound(made.recording), None).wave, atol=1e-9)


def test_a_recorder_that_turns_its_loudness_is_followed():
    made = recorded(pumping_db=6.0)
    assert removed_db(remove_played(sound(made.recording), sound(tune()), line())) > 20


def test_the_rate_of_the_clocks_is_found():
    made = recorded(100.0)
    heard = remove_played(sound(made.recording), None).wave
    found = refine_line(heard, sound(tune()), line())
    assert 1e6 * (1 / found.rate - 1) == pytest.approx(100, abs=2)


def test_a_line_stays_where_nothing_tells():
    kept = line(1.00002)
    for heard in (np.zeros(8 * RATE_HZ), 0.1 * np.random.default_rng(0).normal(size=8 * RATE_HZ), np.zeros(10)):
        assert refine_line(heard, sound(tune()), kept) is kept


def test_a_cue_from_one_side_is_taken_out_too():
    """Cues of the left hand come from the left loudspeaker, whose way to the microphone is another one."""
    rng = np.random.default_rng(0)
    clicks = np.zeros(len(tune()))
    for k in range(1, 24):
        clicks[k * R // 2 :][:400] = 0.5 * rng.normal(size=400) * np.hanning(400)
    both = np.column_stack([tune() + clicks, tune() + 0.4 * clicks]).astype(np.float32)
    mixed = 0.6 * both[:, 0] + 0.3 * np.roll(both[:, 1], 60)
    found = remove_played(sound(mixed), sound(both), ClockLine(0.0, 0.0, 1.0, 0.0, 2))
    together = remove_played(sound(mixed), sound(both.mean(axis=1)), ClockLine(0.0, 0.0, 1.0, 0.0, 2))
    assert removed_db(found) > removed_db(together) + 3


def test_other_music_stays():
    other = (0.5 * hall.tune(77, 8, rate_hz=R)).astype(np.float32)
    found = remove_played(sound(other), sound(tune()[: 8 * R]), ClockLine(0.0, 0.0, 1.0, 0.0, 2))
    assert removed_db(found) < 2


def test_without_anything_played_the_recording_is_what_it_was():
    wave = recorded().recording
    found = remove_played(sound(wave), None)
    assert not found.played.any()
    assert removed_db(found) == 0
    assert len(found.wave) == pytest.approx(len(wave) * RATE_HZ / R, abs=1)


@pytest.mark.parametrize("length", [0, 1, 50, 4000])
def test_short_recordings_are_no_trouble(length):
    found = remove_played(sound(recorded().recording[:length]), sound(tune()), line())
    assert np.isfinite(found.wave).all()
    assert np.isfinite(removed_db(found))


def test_a_missing_line_is_the_callers_bug():
    with pytest.raises(ValueError, match="line"):
        remove_played(sound(recorded().recording), sound(tune()), None)


def test_the_filter_is_that_of_least_squares():
    """What it leaves is what scipy's lstsq leaves with all shifted copies of the known wave as columns."""
    from scipy.linalg import lstsq, toeplitz

    rng = np.random.default_rng(3)
    known = np.zeros(900)
    known[60:700] = rng.normal(size=640)  # silence around it: no shifted copy is cut off
    room = np.zeros(60)
    room[[0, 7, 31]] = 1.0, -0.4, 0.2
    heard = np.convolve(known, room)[:900] + 0.1 * rng.normal(size=900)
    ahead, echoes = 5, 40
    columns = toeplitz(np.roll(known, -ahead), np.zeros(ahead + echoes + 1))
    for k in range(ahead + echoes + 1):
        columns[:, k] = np.roll(known, k - ahead)
    expected = columns @ lstsq(columns, heard)[0]
    found = wiener_filter(heard, known, ahead=ahead / RATE_HZ, echoes=echoes / RATE_HZ)
    assert np.sqrt(np.mean((found - expected) ** 2)) < 1e-3 * np.sqrt(np.mean(expected**2))

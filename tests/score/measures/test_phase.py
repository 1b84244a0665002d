"""Lags: exact values, and what goes wrong with lags that are read from a continuous phase."""

import math

import numpy as np
import pytest
from scipy.signal import csd, hilbert

from tempo_coach.score.measures.circular import circular_sd, mean_direction, mean_interval, resultant_length, wrap
from tempo_coach.score.measures.phase import degrees_to_seconds, lag_degrees, summarise_lag


def test_lags_of_a_quarter_behind_an_even_reference():  # means as scipy and astropy have them
    reference = np.arange(6) * 600.0
    lags = lag_degrees(reference[:5], np.diff(reference), [155, 742, 1360, 1948, 2543])
    assert lags == pytest.approx([93, 85.2, 96, 88.8, 85.8])
    lag = summarise_lag(lags, period=600, asked=90)
    assert (lag.degrees, lag.resultant, lag.sd) == pytest.approx((89.758788, 0.997357, 4.168654), abs=1e-6)
    assert lag.seconds == pytest.approx(149.597980, abs=1e-6)
    assert lag.error == pytest.approx(-0.241212, abs=1e-6)
    assert lag.n == 5


def test_each_lag_is_taken_over_the_period_that_holds_there():  # exact
    reference = np.array([0, 580, 1190, 1770, 2400.0])
    lags = lag_degrees(reference[:4], np.diff(reference), [145, 728, 1341, 1928])
    assert lags == pytest.approx([90, 87.344262, 93.724138, 90.285714], abs=1e-6)


def test_two_clubs_a_quarter_apart():  # Zar's form of the interval for R above 0.9
    lags = np.array([125, 140, 110, 131, 119]) / 500 * 360
    lag = summarise_lag(lags, period=500, asked=90)
    assert lags == pytest.approx([90, 100.8, 79.2, 94.32, 85.68])
    assert (lag.degrees, lag.resultant, lag.sd) == pytest.approx((90, 0.991778, 7.362239), abs=1e-6)
    assert lag.half_interval == pytest.approx(7.974474, abs=1e-6)


def test_a_lag_of_half_a_cycle_is_not_averaged_through_the_wrap():  # exact
    lags = np.array([175, 178, 182, 185, 179, 181.0])
    lag = summarise_lag(lags, period=500, asked=180)
    assert lag.degrees == pytest.approx(180)
    assert lag.error == pytest.approx(0, abs=1e-9)
    assert (lag.resultant, lag.sd) == pytest.approx((0.998478, 3.162623), abs=1e-6)
    assert lag.seconds == pytest.approx(250)
    assert wrap(lags).mean() / 360 * 500 == pytest.approx(0, abs=1e-9)  # what averaging wrapped angles would have said


def test_a_lag_past_half_a_cycle_keeps_its_side():
    lag = summarise_lag([195, 200, 205.0], period=1, asked=180)
    assert (lag.degrees, lag.error) == pytest.approx((200, 20))


def test_a_phase_that_a_filter_gives_is_bent_by_an_uneven_movement_and_ours_is_not():  # exact; scipy's hilbert
    turn = np.linspace(0, 2 * np.pi * 50, 50_000, endpoint=False)
    for offset, false_sd in ((0.2, 8.154294), (0.5, 21.137124), (1.0, 54.450656)):
        bent = np.unwrap(np.angle(hilbert(np.cos(turn)) + offset))
        apart = np.degrees(bent - (turn - np.pi / 2))
        assert mean_direction(apart) == pytest.approx(90, abs=0.1)
        assert circular_sd(resultant_length(apart)) == pytest.approx(false_sd, rel=2e-3)
    events = np.arange(50) * 2 * np.pi  # one event each turn: the offset does not move it
    assert summarise_lag(lag_degrees(events, np.full(50, 2 * np.pi), events + np.pi / 2), period=1).sd < 1e-5


def test_the_sign_is_the_opposite_of_a_cross_spectrums():  # scipy.signal.csd: a later second signal is negative
    rate_hz, frequency = 100, 1.25
    time = np.arange(0, 80, 1 / rate_hz)
    one = np.cos(2 * np.pi * frequency * time)
    other = np.cos(2 * np.pi * frequency * (time - 0.2))
    frequencies, spectrum = csd(one, other, fs=rate_hz, nperseg=800)
    at = int(np.abs(frequencies - frequency).argmin())
    assert math.degrees(np.angle(spectrum[at])) == pytest.approx(-90, abs=1e-6)
    peaks = np.arange(10) / frequency
    assert summarise_lag(
        lag_degrees(peaks, np.full(10, 1 / frequency), peaks + 0.2), period=0.8
    ).degrees == pytest.approx(90)


@pytest.mark.parametrize(("tempo", "ms"), [(60, 2.777778), (100, 1.666667), (120, 1.388889), (144, 1.157407)])
def test_a_degree_in_ms(tempo, ms):  # exact
    assert degrees_to_seconds(1, 60 / tempo) * 1000 == pytest.approx(ms, abs=1e-6)


def test_what_is_missing_is_left_out_and_nothing_is_nothing():
    lags = lag_degrees([0, 1, math.nan, 3], [1, math.nan, 1, 1], [0.25, 1.25, 2.25, 3.25])
    lag = summarise_lag(lags, period=1, asked=90)
    assert (lag.n, lag.degrees) == (2, pytest.approx(90))
    nothing = summarise_lag([math.nan], period=1, asked=90)
    assert nothing.n == 0
    assert math.isnan(nothing.degrees)


def test_without_an_asked_lag_half_a_cycle_early_is_not_half_a_cycle_late():
    assert summarise_lag([-179.6, -179.8], period=0.6).degrees == pytest.approx(-179.7)


def test_without_an_asked_lag_there_is_no_error():
    lag = summarise_lag([170, 190.0], period=1)
    assert lag.degrees == pytest.approx(180)
    assert math.isnan(lag.error)


def test_lags_that_go_together_count_as_fewer():
    lags = [80, 95, 100, 85, 90, 98, 82, 91.0]
    # eight of which neighbours go together by a half are as good as four apart
    alone, together = summarise_lag(lags, period=0.5), summarise_lag(lags, period=0.5, together=0.5)
    assert alone.half_interval == mean_interval(8, alone.resultant)
    assert together.half_interval == mean_interval(4, alone.resultant) > alone.half_interval
    assert (together.degrees, together.n, together.sd) == (alone.degrees, 8, alone.sd)
    assert math.isnan(alone.error) and alone.degrees == pytest.approx(mean_direction(lags))


@pytest.mark.parametrize("name", ["reference", "period", "target"])
def test_a_column_that_is_none_is_named(name):
    columns = {"reference": [0.0], "period": [1.0], "target": [0.2], name: [math.inf]}
    with pytest.raises(ValueError, match=rf"^{name}:"):
        lag_degrees(**columns)

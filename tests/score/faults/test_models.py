"""Models of timing, held against a simulation of what they say (independent code, plain numpy)."""

import numpy as np
import pytest

from tempo_coach.score.faults.models import (
    BY_CYCLE,
    CONSTANT_SD,
    CORRECTION,
    LABEL_SD,
    MOVEMENT,
    TEMPO_SD,
    Layout,
    model_timing,
    whiten,
)

#: Two hands, one of them with two moments a cycle; multiples of a twelfth of a cycle; cycle 3 lacks a moment.
POSITION = np.array([0, 3, 6, 12, 15, 18, 24, 27, 30, 36, 42, 48, 51, 54]) / 12
LABEL = np.array([0, 1000, 1, 0, 1000, 1, 0, 1000, 1, 0, 1, 0, 1000, 1])
MODELS = [(c, m, b) for c in CORRECTION for m in MOVEMENT for b in BY_CYCLE]


def allowed_for(position, label):
    """A constant, a tempo and an offset of each label, as covariance."""
    middle = position - position.mean()
    same = label[:, None] == label[None, :]
    return CONSTANT_SD**2 + TEMPO_SD**2 * np.outer(middle, middle) + LABEL_SD**2 * same


def simulate(position, *, correction, movement, by_cycle, takes, generator):
    """Lateness of many takes, shape (takes, n): a clock that is corrected, and movements of their own.

    The clock gains an error of SD 1 each cycle, or as much a twelfth at a time; a share of its lateness is gone a cycle
    later (linear phase correction, Vorberg & Schulze 2002, from memory); a period has two movements in it, so that of
    its variance each has half of the movements' share (Wing & Kristofferson 1973, from memory).
    """
    keeps = 1 - correction
    parts = 1 if by_cycle else 12
    keeps_each = keeps ** (1 / parts)
    error = np.sqrt((1 - keeps_each**2) / (1 - keeps**2))
    steps = parts * (int(position.max()) + 2)
    settle = parts * 60
    clock = np.zeros((takes, settle + steps))
    for k in range(1, settle + steps):
        clock[:, k] = keeps_each * clock[:, k - 1] + error * generator.standard_normal(takes)
    clock = clock[:, settle:]
    before = np.floor(position * parts + 1e-9).astype(int)
    share = position * parts - before
    late = clock[:, before] * (1 - share) + clock[:, before + 1] * share
    return (1 - movement) ** 0.5 * late + (movement / 2) ** 0.5 * generator.standard_normal(late.shape)


@pytest.mark.parametrize("number", [0, 5, 10, 19, 24, 31])
def test_covariance_is_that_of_a_simulation_of_the_model(number):
    correction, movement, by_cycle = MODELS[number]
    timing = model_timing(Layout(POSITION, LABEL))
    assert timing.correction[number] == correction
    covariance = np.linalg.inv(timing.precision[number]) - allowed_for(POSITION, LABEL)
    takes = 20_000
    late = simulate(
        POSITION,
        correction=correction,
        movement=movement,
        by_cycle=by_cycle,
        takes=takes,
        generator=np.random.default_rng(number),
    )
    seen = late.T @ late / takes
    variance = np.diagonal(covariance)
    # of a covariance of normal variables (Anderson 1958, from memory)
    sd = np.sqrt((np.outer(variance, variance) + covariance**2) / takes)
    assert (abs(seen - covariance) < 4.5 * sd + 1e-6).all()


def test_determinant_and_whitening_are_those_of_the_covariance():  # exact
    timing = model_timing(Layout(POSITION, LABEL))
    for precision, log_determinant in zip(timing.precision[::7], timing.log_determinant[::7], strict=True):
        covariance = np.linalg.inv(precision)
        assert np.linalg.slogdet(covariance)[1] == pytest.approx(log_determinant, abs=1e-6)
        lower = whiten(precision)
        assert np.allclose(lower, np.tril(lower))
        assert np.allclose(lower.T @ lower, precision, atol=1e-8)
        # the innovations are separate, and each is what the ones before it do not tell: Cholesky's factor inverted
        assert np.allclose(lower @ np.linalg.cholesky(covariance), np.eye(len(POSITION)), atol=1e-5)


def test_take_may_be_late_and_off_in_each_moment_and_of_another_tempo_at_little_price():
    timing = model_timing(Layout(POSITION, LABEL))
    wobble = 0.5 * (-1.0) ** np.arange(len(POSITION))
    for allowed in (np.full(len(POSITION), 20.0), np.where(LABEL == 1000, 1.0, 0.0), 0.3 * POSITION):
        prices = allowed @ timing.precision @ allowed
        assert (prices < wobble @ timing.precision @ wobble).all()


def test_whole_cycles_before_a_stretch_change_nothing():
    one, other = (model_timing(Layout(POSITION + since, LABEL)) for since in (0.0, 7.0))
    assert one is other

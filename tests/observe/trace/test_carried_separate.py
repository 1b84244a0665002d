"""Two rotations in one movement: radii, senses, phases whole at low points, and why they cannot be told apart."""

import numpy as np
import pytest

from tempo_coach.observe.trace.carried import Separation, separate
from tempo_coach.reasons import Why

TIME = np.arange(0, 12, 1 / 60)
SLOW = TIME + 0.03 * np.sin(2 * np.pi * TIME / 5)
FAST = 4 * TIME + 0.05 * np.sin(2 * np.pi * TIME / 3)


def path(
    plus: complex, minus: complex, radius: complex, slow: np.ndarray = SLOW, fast: np.ndarray = FAST
) -> np.ndarray:
    """z(t) of the two phases in turns, from their low points."""
    turn = np.exp(2j * np.pi * slow)
    return -1j * (plus * turn - minus * turn.conj() + radius * np.exp(2j * np.pi * fast))


def off_whole(found: np.ndarray, truth: np.ndarray) -> np.ndarray:
    """How far a phase is off, in turns, a turn inside the ends."""
    away = (found - truth)[60:-60]
    return away - np.round(np.median(away))


@pytest.mark.parametrize("shift", [-0.12, 0.0, 0.12])
def test_both_phases_are_found_from_a_guess_that_is_off_by_a_sixth_of_a_turn(shift: float) -> None:
    found = separate(TIME, path(0.7, 0.2, 0.3) + 5 - 2j, TIME + shift, 4 * TIME - shift)
    assert np.abs(off_whole(found.carrying, SLOW)).max() < 0.01
    assert np.abs(off_whole(found.small, FAST)).max() < 0.01
    # half axes of an ellipse of two turning vectors: their sum and difference (exact)
    assert found.carrying_radii == pytest.approx((0.9, 0.5), rel=0.01)
    assert found.small_radius == pytest.approx(0.3, rel=0.01)
    assert (found.carrying_sense, found.small_sense, found.reasons) == (1, 1, ())
    assert found.residual < 0.01
    assert (found.in_room, found.on_arm) == (pytest.approx(4, abs=0.05), pytest.approx(3, abs=0.05))
    assert (np.diff(found.carrying) >= 0).all() and (np.diff(found.small) >= 0).all()


@pytest.mark.parametrize(("carrying", "small"), [(1, -1), (-1, 1), (-1, -1)])
def test_senses_are_told_as_the_plane_is_looked_at(carrying: int, small: int) -> None:
    turned = path(0.7, 0.1, 0.0, slow=SLOW) if carrying == 1 else -path(0.7, 0.1, 0.0).conj()
    turned = turned + (path(0, 0, 0.3) if small == 1 else -path(0, 0, 0.3).conj())
    found = separate(TIME, turned, carrying * TIME, small * 4 * TIME)
    assert (found.carrying_sense, found.small_sense) == (carrying, small)
    assert found.on_arm == pytest.approx(4 - carrying * small, abs=0.05)
    assert np.abs(off_whole(found.small, FAST)).max() < 0.01


def test_an_arm_that_rises_and_falls_has_no_sense() -> None:
    found = separate(TIME, path(0.4, -0.4, 0.15), TIME, 4 * TIME)
    assert found.carrying_sense == 0
    assert found.on_arm == found.in_room == pytest.approx(4, abs=0.05)
    assert np.abs(off_whole(found.carrying, SLOW)).max() < 0.01


def test_what_was_not_read_counts_for_nothing() -> None:
    spoiled, known = path(0.7, 0.2, 0.3), np.ones(TIME.size, dtype=bool)
    known[300:320] = False
    spoiled[300:320] = 100 + 50j
    found = separate(TIME, spoiled, TIME, 4 * TIME, known=known)
    assert found.small_radius == pytest.approx(0.3, rel=0.01)
    assert np.abs(off_whole(found.small, FAST)).max() < 0.02
    assert found.residual < 0.01


def test_a_shift_and_a_scale_move_no_phase() -> None:
    plain = separate(TIME, path(0.7, 0.2, 0.3), TIME, 4 * TIME)
    moved = separate(TIME, 200 * path(0.7, 0.2, 0.3) - 1000j, TIME, 4 * TIME)
    np.testing.assert_allclose(moved.small, plain.small, atol=1e-4)
    assert moved.small_radius == pytest.approx(200 * plain.small_radius, rel=1e-3)


@pytest.mark.parametrize(
    ("made", "guess", "reason"),
    [
        ((TIME[:130], 4 * TIME[:130]), 4.0, Why.FEW_CARRYING),
        ((SLOW, 1.2 * TIME), 1.2, Why.ONE_SPEED),
    ],
)
def test_why_two_rotations_cannot_be_told_apart_is_said(
    made: tuple[np.ndarray, np.ndarray], guess: float, reason: Why
) -> None:
    slow, fast = made
    time = TIME[: slow.size]
    found = separate(time, path(0.7, 0.1, 0.3, slow, fast), time, guess * time)
    assert reason in {each.code for each in found.reasons}


def test_a_small_circle_in_noise_is_said_to_hardly_stand_out() -> None:
    noise = np.random.default_rng(0).standard_normal((2, TIME.size)) * 0.05
    found = separate(TIME, path(0.7, 0.2, 0.02) + noise[0] + 1j * noise[1], TIME, 4 * TIME)
    assert Why.SMALL_IN_RESIDUAL in {reason.code for reason in found.reasons}
    assert found.residual == pytest.approx(0.05 * np.sqrt(2), rel=0.15)  # the noise of both axes


def test_counts_are_those_of_the_phases() -> None:
    phases = np.array([0.0, 2.0]), np.array([1.0, 11.0])
    for carrying, small, arm in ((1, 1, 4), (1, -1, 6), (-1, -1, 4), (0, 1, 5)):
        found = Separation(*phases, (1.0, 0.5), 0.2, carrying, small, 0.0, phases[0], phases[1])
        assert (found.in_room, found.on_arm, found.reasons) == (5, arm, ())

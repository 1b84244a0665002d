"""Positions in their plane of movement: up stays up, also where the plane is tilted or level."""

import numpy as np
import pytest

from tempo_coach.observe.trace.circles import to_plane


def test_the_plane_keeps_up_as_up() -> None:
    path = to_plane(np.array([[0.0, 1.0], [2.0, 3.0]]), ("x", "y"))
    np.testing.assert_array_equal(path, [1j, 2 + 3j])
    np.testing.assert_array_equal(to_plane(np.array([[1.0, 0.0]]), ("y", "x")), [1j])


@pytest.mark.parametrize("tilt", [0.0, 0.5, -1.0])
def test_a_circle_in_an_upright_plane_keeps_its_shape_and_its_up(tilt: float) -> None:
    angle = np.arange(40) * 2 * np.pi / 40
    across = np.array([np.cos(tilt), np.sin(tilt), 0.0])
    path = to_plane(np.outer(np.cos(angle), across) + np.outer(np.sin(angle), [0, 0, 1.0]), ("x", "y", "z"))
    np.testing.assert_allclose(path.imag, np.sin(angle), atol=1e-9)
    np.testing.assert_allclose(np.abs(path), 1, atol=1e-9)


def test_a_level_plane_is_seen_from_above() -> None:
    angle = np.arange(40) * 2 * np.pi / 40
    flat = np.column_stack([2 * np.cos(angle), np.sin(angle), np.zeros(40)])
    np.testing.assert_allclose(to_plane(flat, ("x", "y", "z")), 2 * np.cos(angle) + 1j * np.sin(angle), atol=1e-9)

"""One phase for all who do the same: shifts that are known, of pictures that are drawn here."""

import numpy as np
import pytest

from tempo_coach.observe.film.common_phase import find_shifts

PHASE = np.linspace(0, 8, 240)
SURE = np.ones(PHASE.size, dtype=bool)


def drawn(phase, size, *, way=1, twice=False):
    """A spot that goes around, in pictures of a size; with ``twice`` to and fro, two times a cycle."""
    high, wide = size
    y, x = np.indices(size)
    angle = 2 * np.pi * phase
    across = np.sin(2 * angle) if twice else way * np.sin(angle)
    down = 0 * angle if twice else np.cos(angle)
    at_x, at_y = wide / 2 + wide / 4 * across, high / 2 + high / 4 * down
    far = ((x - at_x[:, None, None]) / (wide / 12)) ** 2 + ((y - at_y[:, None, None]) / (high / 12)) ** 2
    return (200 * np.exp(-far / 2)).astype(np.uint8)


def test_of_another_size_and_mirrored_the_shift_is_found():
    first = drawn(PHASE, (40, 30))
    followed = [
        (PHASE, SURE, first),
        (PHASE, SURE, drawn(PHASE - 0.2, (60, 50))),
        (PHASE, SURE, drawn(PHASE + 0.1, (30, 40), way=-1)),
    ]
    found = find_shifts(followed)
    assert found.cycles == pytest.approx([0.0, 0.2, -0.1], abs=0.005)
    assert found.likeness.min() > 0.9


def test_who_does_something_else_is_not_alike():
    found = find_shifts([(PHASE, SURE, drawn(PHASE, (40, 40))), (PHASE, SURE, drawn(PHASE, (40, 40), twice=True))])
    assert found.likeness.max() < 0.6

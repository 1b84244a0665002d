"""Blocks of samples: the same whether they are kept in memory or in a mapped file."""

import numpy as np
import pytest

from tempo_coach.music import blocks
from tempo_coach.music.blocks import Blocks

MADE = [np.random.default_rng(k).uniform(-1, 1, (length, 2)).astype(np.float32) for k, length in enumerate((5, 1, 300))]


@pytest.mark.parametrize("mapped", [True, False])
def test_what_was_added_is_joined_in_order_and_stays_good(monkeypatch, mapped):
    monkeypatch.setattr(blocks, "MAPPED_FROM", 0 if mapped else 1 << 20)
    with Blocks(2, expected=306) as kept:
        for block in MADE:
            kept.add(block)
        joined = kept.join()
    assert kept.count == 306
    assert isinstance(joined, np.memmap) is mapped
    np.testing.assert_array_equal(joined, np.concatenate(MADE))
    with pytest.raises(ValueError, match="read-only"):
        joined[0, 0] = 0


@pytest.mark.parametrize("mapped", [True, False])
def test_nothing_is_no_frames_of_so_many_channels(monkeypatch, mapped):
    monkeypatch.setattr(blocks, "MAPPED_FROM", 0 if mapped else 1 << 20)
    with Blocks(3, expected=10) as kept:
        assert kept.join().shape == (0, 3)

"""Blocks of samples: the same whether they are kept in memory or in a mapped file."""

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from tempo_coach.music.files import blocks
from tempo_coach.music.files.blocks import Blocks
from tests.refused import refused

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


@pytest.mark.parametrize("expected", [0, 5, 6, 300, 306, 400])
def test_more_or_less_than_was_expected_is_kept_as_well(expected):
    with Blocks(2, expected=expected) as kept:
        for block in MADE:
            kept.add(block)
        np.testing.assert_array_equal(kept.join(), np.concatenate(MADE))


@pytest.mark.parametrize("mapped", [True, False])
def test_nothing_is_no_frames_of_so_many_channels(monkeypatch, mapped):
    monkeypatch.setattr(blocks, "MAPPED_FROM", 0 if mapped else 1 << 20)
    with Blocks(3, expected=10) as kept:
        assert kept.join().shape == (0, 3)


def test_a_folder_of_temporary_files_without_room_is_said_before_it_is_filled(monkeypatch):
    monkeypatch.setattr(blocks, "MAPPED_FROM", 0)
    monkeypatch.setattr(blocks.shutil, "disk_usage", lambda _: SimpleNamespace(free=100))
    with refused(r"cannot be kept in the folder of temporary files \(No space left"):
        Blocks(2, expected=306)


def test_a_folder_of_temporary_files_that_fills_up_is_said(monkeypatch):
    monkeypatch.setattr(blocks, "MAPPED_FROM", 0)
    with Path("/dev/full").open("wb", buffering=0) as full:
        monkeypatch.setattr(blocks.tempfile, "TemporaryFile", lambda **_: full)
        with (
            Blocks(2, expected=306) as kept,
            refused("make room there, name another one in TMPDIR"),
        ):
            kept.add(MADE[2])


def test_no_folder_of_temporary_files_is_said(monkeypatch, tmp_path):
    monkeypatch.setattr(blocks, "MAPPED_FROM", 0)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "gone"))
    with refused("No such file or directory"):
        Blocks(2, expected=306)

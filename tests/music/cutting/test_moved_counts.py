"""Counts moved with what is kept."""

import numpy as np
import pytest

from tempo_coach.music.cutting.cut_list import CutList, CutPiece
from tempo_coach.music.cutting.moved_counts import move_counts
from tests.music.counted import STEADY, WITH_PAUSE


def test_counts_stay_on_their_sound_and_eights_go_on():
    moved = move_counts(STEADY, CutList((CutPiece(1.0, 9.0), CutPiece(17.02, 25.0)), silence=2.0))
    assert moved.beats[:17] == pytest.approx([*(2 + 0.5 * np.arange(16)), 9.98], abs=1e-9)
    assert moved.eights == ((0, 8), (8, 8), (16, 8), (24, 8))


def test_an_eight_ends_at_a_joint_where_counts_do_not_go_on():
    half = CutList((CutPiece(1.0, 7.0), CutPiece(17.0, 25.0)))  # 12 counts, then a one
    assert move_counts(STEADY, half).eights == ((0, 8), (8, 4), (12, 8), (20, 8))
    on = CutList((CutPiece(1.0, 7.0), CutPiece(19.0, 25.0)))  # 12 counts, then a five
    assert move_counts(STEADY, on).eights == ((0, 8), (8, 8), (16, 8))


def test_a_pause_that_is_kept_stays_a_pause_and_an_accent_is_one_count():
    moved = move_counts(WITH_PAUSE, CutList((CutPiece(6.0, 12.0),)))
    assert moved.pauses == ((2.0, 4.0),)
    accent = move_counts(STEADY, CutList((CutPiece(1.0, 9.0), CutPiece(30.0, 33.0))), accent=True)
    assert accent.beats[-1] == 8.0 and accent.beats.size == 17
    with pytest.raises(ValueError, match="two counts"):
        move_counts(STEADY, CutList((CutPiece(1.0, 1.4),)))

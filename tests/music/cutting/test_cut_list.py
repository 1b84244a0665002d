"""Cut lists: where each instant of the music is heard, and whence."""

import pytest

from tempo_coach.music.cutting.cut_list import TONE_S, CutList, CutPiece

CUT = CutList((CutPiece(10.0, 20.0), CutPiece(5.0, 12.0, soft=True)), silence=1.0, tone=True)


def test_an_instant_is_heard_wherever_a_piece_holds_it():
    assert list(CUT.places(11.0)) == [1 + TONE_S + 1, 1 + TONE_S + 10 + 6]
    assert list(CUT.places(4.9)) == []
    assert list(CUT.places(4.99, slack=0.02)) == pytest.approx([1 + TONE_S + 9.99])


def test_what_is_heard_at_a_second_leads_back():
    for seconds in (11.0, 6.0):
        assert seconds in [CUT.source_at(place) for place in CUT.places(seconds)]
    assert CUT.source_at(0.5) is None and CUT.source_at(CUT.duration) is None


def test_nothing_else_is_a_cut_list():
    for make in (lambda: CutPiece(2.0, 2.0), lambda: CutList(()), lambda: CutList((CutPiece(0, 1),), silence=-1.0)):
        with pytest.raises(ValueError, match="expected"):
            make()

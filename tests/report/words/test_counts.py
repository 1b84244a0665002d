"""Every correction of counts has words of its own."""

import pytest

from tempo_coach.music.counts.corrections import CORRECTION_KINDS, Correction
from tempo_coach.report.words.counts import say_correction


@pytest.mark.parametrize(
    ("deed", "said"),
    [
        ("level", "counted at about 120 from 1:02.50 to 1:04.00"),
        ("one", "this is one, at 1:02.50"),
        ("first", "first movement at 1:02.50"),
        ("length", "4 counts in the eight at 1:02.50"),
        ("move", "count moved from 1:02.50 to 1:04.00"),
        ("add", "count added at 1:02.50"),
        ("drop", "count dropped at 1:02.50"),
        ("tapped", "tapped anew from 1:02.50 to 1:03.00"),
        ("pause", "pause from 1:02.50 to 1:04.00"),
        ("through", "4 counts through the gap at 1:02.50"),
        ("cut", "cut at 1:02.50"),
    ],
)
def test_every_correction_is_said_in_words(deed, said):
    assert say_correction(Correction(deed, 62.5, to=64.0, counts=4, tempo_bpm=120, times=(62.5, 63.0))) == said


def test_every_correction_has_words_of_its_own():
    assert say_correction(Correction("level", 0.0, tempo_bpm=90)) == "counted at about 90 from 0:00.00 to the end"
    each = [Correction(do, 1.0, to=2.0, counts=4, tempo_bpm=90, times=(1.0, 2.0)) for do in CORRECTION_KINDS]
    said = {say_correction(correction) for correction in each}
    assert len(said) == len(CORRECTION_KINDS)

"""What is to be kept, as it is typed."""

import pytest

from tempo_coach.errors import CoachError
from tempo_coach.music.cutting.joints import KeptSpan
from tempo_coach.music.cutting.kept_words import read_kept
from tests.music.counted import STEADY, WITH_PAUSE


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1-2", (0, 16)),
        ("3:5-4:4", (20, 28)),
        ("7-end", (48, 64)),
        ("start-1", (0, 8)),
        ("2s-6.1s", (2, 10)),
        (" 8 - 8 ", (56, 64)),
    ],
)
def test_places_are_understood(text, expected):
    assert read_kept(text, STEADY, 33.0) == KeptSpan(*expected)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("3", "cut.no_places"),
        ("a-b", "cut.no_places"),
        ("3-2", "cut.backwards"),
        ("8-9", "cut.beyond_music"),
        ("2:9-3", "cut.no_such_count"),
        ("0-3", "cut.no_such_count"),
    ],
)
def test_what_cannot_be_kept_is_said(text, code):
    with pytest.raises(CoachError, match=code):
        read_kept(text, STEADY, 33.0)


def test_nothing_is_joined_inside_a_pause():
    with pytest.raises(CoachError, match=r"cut\.in_pause"):
        read_kept("9s-12s", WITH_PAUSE, 18.0)
    assert read_kept("2-3", WITH_PAUSE, 18.0) == KeptSpan(8, 24)

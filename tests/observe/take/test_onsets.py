import numpy as np
import pytest

from tempo_coach.observe.take.onsets import Onsets, read_onsets
from tempo_coach.report.words.errors import say_error
from tests.refused import into, refused

HANDS = ("right", "left")


@pytest.fixture
def write(tmp_path):
    def write_table(content):
        path = tmp_path / "onsets.csv"
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return path

    return write_table


def test_columns_are_found_by_name_whatever_their_order_and_neighbours(write):
    onsets = read_onsets(write("hand;note;time\nright;x;1.5\n\nleft;;2.0\n"), hands=HANDS)
    np.testing.assert_allclose(onsets.time, [1.5, 2.0])
    assert onsets.hand == HANDS
    np.testing.assert_allclose(onsets.of_hand("left"), [2.0])
    assert onsets.of_hand("foot").size == 0


def test_rows_out_of_order_are_put_in_order_and_said(write):
    told = []
    onsets = read_onsets(write("time,hand\n2,right\n1,left\n"), hands=HANDS, warn=into(told))
    assert onsets.hand == ("left", "right")
    assert len(told) == 1 and "order" in told[0]


def test_one_hand_needs_no_column(write):
    assert read_onsets(write("time\n1\n2\n"), hands=("right",)).hand == ("right", "right")


def test_a_header_alone_is_a_take_without_onsets(write):
    assert len(read_onsets(write("time,hand\n"), hands=HANDS)) == 0


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("", "empty"),
        ("when,hand\n1,right\n", ":1: expected a column time, found when, hand"),
        ("time,foot\n1,right\n", ":1: expected a column hand"),
        (
            "time,hand\n1,right\nsoon,left\n",
            ":3: expected a time in seconds, found 'soon'; write each time in seconds, such as 12.34",
        ),
        ("time,hand\nnan,right\n", ":2: expected a time"),
        ("time,hand\ninf,right\n", ":2: expected a time"),
        ("time,hand\n1e300,right\n", ":2: expected a time"),
        (f"time,hand\n{'9' * 5000},right\n", ":2: expected a time"),
        ("time,hand\n1,right\n1,left\n1,right\n1,left\n1,right\n", ":6: .*one after the other, found 1 s for right"),
        ("time,hand\n" + "\n" * 2_000_000, "expected up to 2,000,000 rows, found 2,000,001"),
        ("time,hand\n1,rigth\n", ":2: .*did you mean right"),
        ("time,hand\n1\n", ":2: expected a hand"),
        (b"\x89PNG\r\n\x1a\n\xff\xfe", "no text"),
        ('time,hand\n1,"right\n', "no table"),
    ],
)
def test_a_table_that_cannot_be_read_gets_one_sentence_with_its_line(write, content, words):
    with refused(words) as caught:
        read_onsets(write(content), hands=HANDS)
    assert "\n" not in say_error(caught.value)


def test_a_missing_file_is_said(tmp_path):
    with refused("no such file"):
        read_onsets(tmp_path / "gone.csv", hands=HANDS)


def test_columns_that_do_not_fit_are_refused():
    with pytest.raises(ValueError, match="expected 1 hands"):
        Onsets([1.0], ())
    with pytest.raises(ValueError, match="ascending"):
        Onsets([2.0, 1.0], HANDS)

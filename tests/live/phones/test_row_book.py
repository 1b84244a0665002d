"""Numbered rows: whatever is sent how often and in whatever order, each is taken once."""

from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.live.phones.row_book import RowBook


@given(st.lists(st.tuples(st.integers(0, 30), st.integers(1, 12)), max_size=40))
def test_what_was_taken_is_every_row_once_and_in_order(sent):
    book, taken = RowBook(), []
    for first, count in sent:
        new = book.take(first, [[float(k)] for k in range(first, first + count)])
        taken += new or []
    assert taken == [[float(k)] for k in range(book.next)]


def test_a_gap_is_refused_until_what_is_missing_comes():
    book = RowBook()
    assert book.take(3, [[3.0]]) is None and book.next == 0
    assert book.take(0, [[0.0], [1.0], [2.0], [3.0]]) == [[0.0], [1.0], [2.0], [3.0]]
    assert book.take(3, [[3.0]]) == [] and book.doubles == 1


def test_what_a_phone_has_lost_is_not_waited_for():
    book = RowBook()
    assert book.take(5, [[5.0]], held=5) == [[5.0]] and book.lost == 5


def test_a_message_without_rows_changes_nothing():
    book = RowBook()
    assert book.take(99, []) == [] and book.next == 0

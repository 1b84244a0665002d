"""Messages of phones: what no page of ours sends is refused, whatever it is."""

import contextlib
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tempo_coach.live.phones.messages import MOST_ROWS, BadMessage, Message, read_message

GOOD = {"at": 1.5, "page": ["p", 1.7e9], "first": 3, "got": [[4, 1.2]]}
GOOD["rows"] = [[1.0, 0, 1], [1.1, 1, 0, 0, 9.8, 0, 0, 0]]
SIMPLE = st.none() | st.booleans() | st.floats() | st.text(max_size=3) | st.integers()
ANYTHING = st.fixed_dictionaries(
    {}, optional=dict.fromkeys(GOOD, SIMPLE | st.lists(SIMPLE | st.lists(SIMPLE, max_size=4), max_size=3))
)


def test_a_message_of_a_page():
    message = read_message(json.dumps(GOOD))
    assert message.rows[0] == [1.0, 0, 1.0] and message.first == 3 and message.of == ("p", 1.7e9)
    assert message.got == [(4, 1.2, None)]


@pytest.mark.parametrize(
    "change",
    [
        {"at": None}, {"at": True}, {"at": 1e300}, {"at": "1"}, {"page": ""}, {"page": ["é", 0]},
        {"page": ["x" * 40, 0]}, {"page": ["p"]}, {"page": ["p", 1e12]}, {"got": [[1, 1.0, 1.0, 1.0]]},
        {"first": -1}, {"first": 1.5}, {"first": 2**60}, {"rows": {}}, {"rows": [[1.0, 0]]}, {"rows": [[1.0, 9, 1]]},
        {"rows": [[1.0, 1, 0]]}, {"rows": [[1.0, 0, None]]}, {"rows": [[1.0, 0, 1e9]]}, {"rows": [1]},
        {"rows": [[1.0, 0, 1]] * (MOST_ROWS + 1)}, {"got": [[1]]}, {"got": [["a", 1.0]]}, {"left": "all"}, {"of": 7},
    ],
)  # fmt: skip
def test_what_no_page_sends_is_refused(change):
    with pytest.raises(BadMessage):
        read_message(json.dumps({**GOOD, **change}))


@pytest.mark.parametrize("raw", ["", "[]", "null", "{", "[" * 60_000, "1" * 70_000, b"\xff\xfe", '{"at": NaN}', "7"])
def test_what_is_no_object_is_refused(raw):
    with pytest.raises((BadMessage, UnicodeDecodeError)):
        read_message(raw)


@settings(max_examples=30)
@given(ANYTHING)
def test_anything_is_a_message_or_refused(values):
    with contextlib.suppress(BadMessage):
        assert isinstance(read_message(json.dumps(values)), Message)

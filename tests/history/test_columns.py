"""Takes and scorecards as columns: what goes in comes out, and damage is noticed."""

import math
import sqlite3
import zlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach import coach
from tempo_coach.history.columns import (
    COLUMNS,
    LISTED,
    UNKNOWN,
    CardSource,
    TakeRow,
    encode,
    make_columns,
    pack_onsets,
    pack_values,
    read_row,
    tempo_of,
    unpack_onsets,
    unpack_values,
)
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.report.words.card import card_to_dict

PLAN = coach.lay(coach.Request("clubs_mills", tempo_bpm=120, cycles=4))
TAKE = Take(PLAN, Onsets(PLAN.moments.time + 0.02, PLAN.moments.hand))

JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)


@given(st.dictionaries(st.text(), JSON, max_size=4))
def test_values_come_back_as_they_were(values: dict[str, object]) -> None:
    assert unpack_values(pack_values(values)) == values


def test_the_order_in_which_values_were_put_together_does_not_tell() -> None:
    assert encode({"a": 1, "b": {"d": 2, "c": 3}}) == encode({"b": {"c": 3, "d": 2}, "a": 1})
    assert pack_values({"a": 1, "b": 2}) == pack_values({"b": 2, "a": 1})


def test_a_number_that_json_does_not_have_is_a_callers_bug() -> None:
    with pytest.raises(ValueError, match="JSON"):
        encode({"a": math.nan})


def test_a_damaged_body_is_noticed() -> None:
    body = bytearray(pack_values({"sentence": "Even."}))
    body[len(body) // 2] ^= 0xFF
    with pytest.raises((zlib.error, ValueError)):
        unpack_values(bytes(body))


@given(
    st.lists(st.tuples(st.floats(0, 1e5), st.sampled_from(["left", "right", "second club", "Zoë"])), max_size=20).map(
        sorted
    )
)
def test_onsets_come_back_to_the_last_bit(rows: list[tuple[float, str]]) -> None:
    onsets = Onsets([time for time, _ in rows], tuple(hand for _, hand in rows))
    back = unpack_onsets(*pack_onsets(onsets))
    np.testing.assert_array_equal(back.time, onsets.time)
    assert back.hand == onsets.hand


def test_the_columns_of_a_card_are_what_it_says() -> None:
    said = card_to_dict(coach.judge_take(TAKE))
    columns = make_columns(CardSource(said, steady=True))
    assert columns["bias_ms"] == said["bias_ms"] == pytest.approx(20)
    assert (columns["n"], columns["missed"], columns["extra"]) == (len(PLAN.moments), 0, 0)
    assert (columns["flagged"], columns["steady"]) == (0, 1)


def test_what_is_not_known_of_a_take_is_told_as_that_in_a_list() -> None:
    kept = {name: None if column.sql == "REAL" else 1 for name, column in LISTED.items()}
    kept |= {"missed": UNKNOWN, "routine": None}
    row = read(kept)
    assert row.steady is True and row.n == 1 and row.extra == 1 and row.routine == ""
    assert all(math.isnan(getattr(row, name)) for name, column in LISTED.items() if column.sql == "REAL")
    assert row.missed is None and row.to_dict()["missed"] is None and row.to_dict()["bias_ms"] is None


def test_a_card_that_does_not_know_what_is_missing_can_be_kept() -> None:
    said = {**card_to_dict(coach.judge_take(TAKE)), "missed": None, "extra": None}
    columns = make_columns(CardSource(said, steady=True))
    row = read(dict.fromkeys(LISTED, 1) | {name: value for name, value in columns.items() if name in LISTED})
    assert (row.missed, row.extra) == (None, None)


def read(kept: dict[str, object]) -> TakeRow:
    connection = sqlite3.connect(":memory:")
    connection.row_factory = sqlite3.Row
    row = read_row(connection.execute("SELECT " + ", ".join(f":{name} AS {name}" for name in kept), kept).fetchone())
    connection.close()
    return row


def test_a_column_that_came_later_may_be_null_in_older_takes() -> None:
    assert all("NOT NULL" not in column.sql for column in COLUMNS.values() if column.since > 1)


@pytest.mark.parametrize(("tempo_bpm", "speed"), [(60.0, 1.0), (132.0, 1.0), (120.0, 0.5)])
def test_the_tempo_of_a_take_is_the_one_that_was_heard(tempo_bpm: float, speed: float) -> None:
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=tempo_bpm, cycles=2, speed=speed))
    assert tempo_of(Take(plan, Onsets([], ()))) == pytest.approx(tempo_bpm * speed)

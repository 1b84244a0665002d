"""What the history gives back: names, days and times as they are kept, rows as plain values."""

from __future__ import annotations

import json
import math
from datetime import UTC, date, datetime

import pytest

from tempo_coach.errors import CoachError
from tempo_coach.history.records import LONGEST_NAME, Wanted, read_begun, read_day, read_name
from tempo_coach.report.words.errors import hint_of, message_of
from tests.history.season import row
from tests.refused import refused


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("Ada", "Ada"),
        ("  Zoe\u0308 \t Li\u00a0Ma \n", "Zoë Li Ma"),
        ("🤸🏽‍♀️", "🤸🏽‍♀️"),
        ("李小龙", "李小龙"),
        ("x" * LONGEST_NAME, "x" * LONGEST_NAME),
        ("e\u0301" * LONGEST_NAME, "é" * LONGEST_NAME),
    ],
)
def test_a_name_is_kept_in_one_way_of_writing(given, kept):
    assert read_name(given) == kept
    assert read_name(kept) == kept


def test_a_name_that_cannot_be_kept_says_what_was_found():
    for given, message, hint in (
        ("\u2003", "expected a name, found nothing", None),
        ("x" * 201, "expected a name of at most 200 letters, found 201", "use a short one; it is only for you"),
        ("a\x1b[2J", "expected a name that can be printed, found 'a\\x1b[2J'", None),
        ("a\ud800", "expected a name that can be printed, found 'a\\ud800'", None),
        ("a\uffff", "expected a name that can be printed, found 'a\\uffff'", None),
    ):
        with pytest.raises(CoachError) as caught:
            read_name(given)
        assert (message_of(caught.value), caught.value.where, hint_of(caught.value)) == (message, "athlete", hint)


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("2031-05-04", "2031-05-04T00:00:00"),
        ("2031-05-04T18:15", "2031-05-04T18:15:00"),
        ("2031-05-04 18:15:02.987", "2031-05-04T18:15:02"),
        ("2031-05-04T18:15:02+02:00", "2031-05-04T18:15:02+02:00"),
        ("20310504T181502Z", "2031-05-04T18:15:02+00:00"),
    ],
)
def test_date_and_time_are_kept_to_the_second_with_their_zone(given, kept):
    assert read_begun(given) == kept


@pytest.mark.parametrize("given", ["", "yesterday", "2031-02-30", "18:15", "x" * 99])
def test_what_is_no_date_and_time_is_said(given):
    with pytest.raises(CoachError) as caught:
        read_begun(given)
    assert message_of(caught.value) == f"expected date and time such as 2031-05-04T18:15, found {given[:40]!r}"
    assert caught.value.where == "begun"


@pytest.mark.parametrize(
    ("given", "day"),
    [(" ToDay ", "2031-05-20"), (" 1", "2031-05-19"), ("20", "2031-04-30")],
)
def test_a_day_may_be_said_as_a_date_or_as_days_ago(given, day):
    assert read_day(given, today=date(2031, 5, 20), where="--until") == day


@pytest.mark.parametrize("given", ["-1", "1.5", "²", "2031-02-30", "9999999", "20310504"])
def test_what_is_no_day_is_said_where_it_was_given(given):
    with pytest.raises(CoachError) as caught:
        read_day(given, today=date(2031, 5, 20), where="--until")
    assert caught.value.where == "--until"
    assert message_of(caught.value) == (
        f"expected a day such as 2031-05-04, a number of days ago, or today, found {given!r}"
    )


def test_a_row_as_plain_values_has_null_where_nothing_is_known():
    values = row(spread_ms=math.nan, athlete="Zoë 🤸").to_dict()
    assert values["spread_ms"] is None and values["bias_ms"] == -10.0 and values["athlete"] == "Zoë 🤸"
    assert list(values)[:3] == ["number", "athlete", "begun"]
    assert json.loads(json.dumps(values, allow_nan=False)) == values


def test_a_row_knows_its_day_as_it_was_there_and_its_instant():
    late = row(begun="2031-05-04T23:30:00-05:00")
    assert late.day == "2031-05-04"
    assert late.time == datetime(2031, 5, 5, 4, 30, tzinfo=UTC)
    assert row(begun="2031-05-04T18:15:00").time.tzinfo is not None


def test_nothing_wanted_in_particular_wants_everything():
    assert Wanted() == Wanted(athlete=None, drill=None, routine=None, since=None, until=None, words="", last=None)


@pytest.mark.parametrize(
    ("name", "said"),
    [("", "found nothing"), (" \n", "found nothing"), ("a" * 10_000, "found 10000"), ("a\0b", "print")],
)
def test_what_is_no_name_is_said(name, said):
    with refused(said):
        read_name(name)


def test_days_as_they_are_said():
    today = date(2031, 5, 20)
    assert read_day("2031-05-04", today=today, where="--since") == "2031-05-04"
    assert read_day("today", today=today, where="--since") == "2031-05-20"
    assert read_day("0", today=today, where="--since") == "2031-05-20"
    for wrong in ("4.5.", "yesterday", "9" * 30, ""):
        with refused("--since: expected a day"):
            read_day(wrong, today=today, where="--since")

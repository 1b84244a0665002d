"""Amounts, times and places in words."""

from __future__ import annotations

from functools import reduce
from typing import TYPE_CHECKING

from tempo_coach.languages import DAY, spoken, tr, tr_n

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date


def several(number: int, thing: str) -> str:
    """Return a number of things in words.

    Examples
    --------
    >>> several(1, "take"), several(12, "take")
    ('1 take', '12 takes')
    """
    return tr_n(f"{{number}} {thing}", f"{{number}} {thing}s", number)


def say_decimal(value: float, form: str) -> str:
    """Return a number in one of Python's formats, with the separators of the current language.

    Examples
    --------
    >>> say_decimal(0.123, ".1%"), say_decimal(-1.25, "+.1f")
    ('12.3%', '-1.2')
    """
    return tr(f"{{value:{form}}}", value=value)


def join_words(told: Iterable[str], form: str) -> str:
    """Return several phrases as one, joined pairwise by a form.

    Examples
    --------
    >>> join_words(["low", "high", "fall"], "{first} and {second}")
    'low and high and fall'
    """
    return reduce(lambda first, second: tr(form, first=first, second=second), told)


def begin(text: str) -> str:
    """Return a phrase capitalised as at the beginning of a sentence.

    Examples
    --------
    >>> begin("the left hand")
    'The left hand'
    """
    return text[:1].upper() + text[1:]


def say_number(cycle: int) -> str:
    """Return the number of a cycle, counted from 1 as people do.

    Examples
    --------
    >>> say_number(0)
    'cycle 1'
    """
    return tr("cycle {cycle}", cycle=cycle + 1)


def say_day(day: date) -> str:
    """Return a date as in a sentence.

    Examples
    --------
    >>> from datetime import date
    >>> say_day(date(2031, 3, 14))
    '14 March 2031'
    """
    return tr(DAY, day=day.day, date=day, year=day.year)


def say_clock(seconds: float) -> str:
    """Return minutes and seconds with one decimal.

    Examples
    --------
    >>> say_clock(62.34), say_clock(59.96), say_clock(600)
    ('1:02.3', '1:00.0', '10:00.0')
    """
    tenths = round(seconds * 10)
    return spoken().fill("{}:{:04.1f}", (tenths // 600, tenths % 600 / 10), {})


def say_hundredths(seconds: float) -> str:
    """Return minutes and seconds with two decimals, the precision of counts.

    Examples
    --------
    >>> say_hundredths(62.34)
    '1:02.34'
    """
    hundredths = round(seconds * 100)
    return spoken().fill("{}:{:05.2f}", (hundredths // 6000, hundredths % 6000 / 100), {})

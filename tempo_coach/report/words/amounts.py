"""Amounts, times and places in words."""

from tempo_coach.languages import tr, tr_n


def several(number: int, thing: str) -> str:
    """Return a number of things.

    Examples
    --------
    >>> several(1, "take"), several(12, "take")
    ('1 take', '12 takes')
    """
    return tr_n(f"{{number}} {thing}", f"{{number}} {thing}s", number)


def say_decimal(value: float, form: str) -> str:
    """Return a number in a format of Python's, with the signs of the language that is spoken.

    Examples
    --------
    >>> say_decimal(0.123, ".1%"), say_decimal(-1.25, "+.1f")
    ('12.3%', '-1.2')
    """
    return tr(f"{{value:{form}}}", value=value)


def begin(text: str) -> str:
    """Return words as a sentence begins with them.

    Examples
    --------
    >>> begin("the left hand")
    'The left hand'
    """
    return text[:1].upper() + text[1:]


def say_number(cycle: int) -> str:
    """Return the number of a cycle, which are counted from 1, as people do.

    Examples
    --------
    >>> say_number(0)
    'cycle 1'
    """
    return tr("cycle {cycle}", cycle=cycle + 1)


def say_clock(seconds: float) -> str:
    """Return minutes and seconds with a tenth.

    Examples
    --------
    >>> say_clock(62.34), say_clock(59.96), say_clock(600)
    ('1:02.3', '1:00.0', '10:00.0')
    """
    tenths = round(seconds * 10)
    return f"{tenths // 600}:{tenths % 600 / 10:04.1f}"


def say_hundredths(seconds: float) -> str:
    """Return minutes and seconds with hundredths, which is how finely a count is placed.

    Examples
    --------
    >>> say_hundredths(62.34)
    '1:02.34'
    """
    hundredths = round(seconds * 100)
    return f"{hundredths // 6000}:{hundredths % 6000 / 100:05.2f}"

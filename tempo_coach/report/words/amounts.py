"""Amounts in words."""


def several(number: int, thing: str) -> str:
    """Return a number of things.

    Examples
    --------
    >>> several(1, "take"), several(12, "take")
    ('1 take', '12 takes')
    """
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def say_number(cycle: int) -> str:
    """Return the number of a cycle, which are counted from 1, as people do.

    Examples
    --------
    >>> say_number(0)
    'cycle 1'
    """
    return f"cycle {cycle + 1}"

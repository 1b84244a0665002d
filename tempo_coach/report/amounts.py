"""How many of something, as it is said."""


def several(number: int, thing: str) -> str:
    """Return a number of things.

    Examples
    --------
    >>> several(1, "take"), several(12, "take")
    ('1 take', '12 takes')
    """
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"

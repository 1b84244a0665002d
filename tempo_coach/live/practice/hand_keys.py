"""Keys of the hands, and the default ones."""

from __future__ import annotations

#: Keys that are never a hand's: they lead through the screens, or the terminal makes other keys of them.
RESERVED_KEYS = frozenset({"enter", "escape", "tab", "shift+tab", "up", "down", "left", "right", "pageup", "pagedown"})
#: Keys without a sign of their own that may be a hand's.
NAMED_KEYS = frozenset({"space", "backspace", "delete", "insert", "home", "end"})
#: Default keys of the hands: the two that a keyboard marks for the forefingers.
DEFAULT_KEYS = {"right": "j", "left": "f"}
#: What other parts get, in this order: under the fingers first, then whatever letter or digit is left.
SPARE_KEYS = (*"jfkdlsahg", *"qwertyuiopzxcvbnm", *"1234567890")


def default_keys(hands: tuple[str, ...], known: tuple[tuple[str, str], ...] = ()) -> tuple[tuple[str, str], ...]:
    """Return a key for each hand: remembered ones, those under the forefingers, then any free one.

    Parameters
    ----------
    hands : tuple of str
        At most as many as there are spare keys.
    known : tuple of (hand, key)

    Returns
    -------
    tuple of (hand, key)
        In the order of the hands, no key twice.

    Examples
    --------
    >>> default_keys(("rope", "right", "left"))
    (('rope', 'k'), ('right', 'j'), ('left', 'f'))
    """
    keys = dict(known)
    for hand in hands:
        wanted = DEFAULT_KEYS.get(hand)
        if hand not in keys and wanted is not None and wanted not in keys.values():
            keys[hand] = wanted
    for hand in hands:
        if hand not in keys:
            keys[hand] = next(key for key in SPARE_KEYS if key not in keys.values())
    return tuple((hand, keys[hand]) for hand in hands)


def can_be_a_hand(key: str) -> bool:
    """Return whether a key may belong to a hand: not a key of the screens, nor one with a modifier."""
    held_with_another = key.startswith(("ctrl+", "alt+", "shift+", "super+", "meta+"))
    return key not in RESERVED_KEYS and not held_with_another and (len(key) == 1 or key in NAMED_KEYS)

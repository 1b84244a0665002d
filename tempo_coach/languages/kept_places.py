"""Places, options and commands of a sentence, which a translation has to keep."""

from __future__ import annotations

import re
from string import Formatter
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

#: Options, places of another kind (``%(default)s``), and commands of the program: they are typed as they stand.
_KEPT = re.compile(r"--[a-z][a-z-]*|%\([a-z]+\)s|tempo-coach(?: [a-z]+)?")


def find_places(form: str) -> list[str]:
    """Return the placeholders of a form with their formats, by name; unnamed ones are numbered.

    Examples
    --------
    >>> find_places("{b:.1f} of {a}"), find_places("{} of {}"), find_places("{1} of {0}")
    (['a', 'b:.1f'], ['0', '1'], ['0', '1'])
    """
    found, number = [], 0
    for _, name, spec, change in Formatter().parse(form):
        if name is None:
            continue
        number += not name
        found.append((name or str(number - 1)) + (f"!{change}" if change else "") + (f":{spec}" if spec else ""))
    return sorted(set(found))


def find_wrong(key: str | Iterable[str], translated: str | Iterable[str]) -> str:
    """Return the placeholders that a translation lacks or has in excess; empty where it is right.

    Of a plural the form of one thing may leave its number out.
    """
    keys = [key] if isinstance(key, str) else list(key)
    forms = [translated] if isinstance(translated, str) else list(translated)
    try:
        asked = set(find_places(keys[-1])) | set(find_places(keys[0]))
        has_places = len(keys) > 1 or bool(asked)
        for number, form in enumerate(forms):
            there = set(find_places(form)) if has_places else asked
            lacking = asked - there - ({"number"} if len(keys) > 1 and number == 0 else set())
            if lacking or there - asked:
                return f"places {', '.join(sorted(lacking | (there - asked)))}"
    except ValueError:
        return "" if not _is_form(keys[0]) else "braces"
    for form in forms:
        lost = set(_KEPT.findall(keys[-1])) ^ set(_KEPT.findall(form))
        if lost:
            return f"as it is typed {', '.join(sorted(lost))}"
    return ""


def _is_form(text: str) -> bool:
    try:
        find_places(text)
    except ValueError:
        return False
    return True

"""Catalogues of languages, read from their compiled files or from the text that people write.

Paths are plain text here: a start has no time for more.
"""

from __future__ import annotations

import os
import re
import struct
from bisect import bisect_left
from gettext import c2py
from typing import TYPE_CHECKING

from tempo_coach.languages import ENGLISH, SENSE, Language

if TYPE_CHECKING:
    from collections.abc import Callable

#: The folder that holds a folder for each language.
FOLDER = os.path.dirname(__file__)
#: A catalogue as people write it, and compiled, as the wheel has it.
TEXT, COMPILED = "messages.po", "messages.mo"
#: Of a file in gettext's compiled form, and of its version (GNU gettext manual, "The Format of GNU MO Files").
_MAGIC, _VERSION = 0x950412DE, 0
#: A text in quotes, and what is written after a backslash in it.
_QUOTED = re.compile(r'"(?:[^"\\]|\\.)*"')
_ESCAPED = re.compile(r"\\(.)")
_SIGNS = {"n": "\n", "t": "\t", "r": "\r"}
#: Between the forms of a plural.
_FORMS = "\0"


def list_languages(folder: str = FOLDER) -> list[str]:
    """Return the codes of the available languages, English included."""
    with os.scandir(folder) as entries:
        codes = [each.name for each in entries if each.is_dir()]
    there = {code for code in codes for name in (TEXT, COMPILED) if os.path.isfile(os.path.join(folder, code, name))}
    return sorted(there | {ENGLISH.code})


def read_language(code: str, folder: str = FOLDER) -> Language:
    """Return a language, from the compiled catalogue unless the text beside it is newer.

    Raises
    ------
    OSError
        If there is none, or it cannot be read.
    ValueError
        If the catalogue is broken.
    """
    if code == ENGLISH.code:
        return ENGLISH
    text, compiled = os.path.join(folder, code, TEXT), os.path.join(folder, code, COMPILED)
    if os.path.isfile(compiled) and not (os.path.isfile(text) and os.path.getmtime(text) > os.path.getmtime(compiled)):
        with open(compiled, "rb") as file:
            find = find_in_compiled(file.read())
    else:
        with open(text, encoding="utf-8") as written:
            find = read_text(written.read()).get
    rule = re.search(r"^Plural-Forms:.*plural=([^;]+);", find("") or "", re.MULTILINE)
    if rule is None:
        raise ValueError(f"the catalogue of {code} has no header with the forms of its plurals")
    return Language(code, find, c2py(rule[1]))


def find_in_compiled(content: bytes) -> Callable[[str], str | None]:
    """Return the look-up function of a compiled catalogue, whose keys are sorted.

    Nothing is read that is not asked for: a start has no time for thousands of sentences.

    Raises
    ------
    ValueError
        If the content is none of gettext's, or cut short.
    """
    try:
        magic, version, number, keys, values = struct.unpack_from("<5I", content)
        last = number and max(sum(struct.unpack_from("<2I", content, at + 8 * (number - 1))) for at in (keys, values))
    except struct.error as error:
        raise ValueError("the compiled catalogue is cut short") from error
    if magic != _MAGIC or version != _VERSION or last > len(content):
        raise ValueError("this is no compiled catalogue, or not a whole one")

    def part(table: int, row: int) -> bytes:
        size, start = struct.unpack_from("<2I", content, table + 8 * row)
        return content[start : start + size]

    def find(key: str) -> str | None:
        wanted = key.encode()
        row = bisect_left(range(number), wanted, key=lambda row: part(keys, row))
        return part(values, row).decode() if row < number and part(keys, row) == wanted else None

    return find


def compile_text(text: str) -> bytes:
    """Return a catalogue in gettext's compiled form, without untranslated and fuzzy entries.

    Raises
    ------
    ValueError
        If the text is no catalogue.
    """
    messages = read_text(text)
    if "" not in messages:
        raise ValueError("the catalogue has no header")
    entries = sorted((key.encode(), value.encode()) for key, value in messages.items())
    start = 28 + 16 * len(entries)
    keys, values = b"", b""
    tables: list[tuple[int, int, int, int]] = []
    for key, value in entries:
        tables.append((len(key), len(keys), len(value), len(values)))
        keys, values = keys + key + b"\0", values + value + b"\0"
    head = struct.pack("<7I", _MAGIC, _VERSION, len(entries), 28, 28 + 8 * len(entries), 0, 0)
    of_keys = b"".join(struct.pack("<2I", size, start + at) for size, at, _, _ in tables)
    of_values = b"".join(struct.pack("<2I", size, start + len(keys) + at) for _, _, size, at in tables)
    return head + of_keys + of_values + keys + values


def read_text(text: str) -> dict[str, str]:
    """Return translations by their keys, in the form that gettext compiles.

    Parameters
    ----------
    text : str
        Of a catalogue as people write it (GNU gettext manual, "The Format of PO Files").

    Raises
    ------
    ValueError
        If a line of it can be none of a catalogue.
    """
    messages: dict[str, str] = {}
    entry: dict[str, str] = {}
    field, doubtful = "", False

    def end() -> None:
        forms = [entry[name] for name in sorted(entry) if name.startswith("msgstr")]
        if forms and all(forms) and not doubtful:
            key = entry.get("msgid", "") + (_FORMS + entry["msgid_plural"] if "msgid_plural" in entry else "")
            context = entry["msgctxt"] + SENSE if "msgctxt" in entry else ""
            messages[context + key] = _FORMS.join(forms)

    for number, written in enumerate((*text.splitlines(), ""), 1):
        line = written.strip()
        if line.startswith("#~"):
            continue
        begins = line.startswith(("msgid ", "msgctxt "))
        if field.startswith("msgstr") and (not line or begins or line.startswith("#")):
            end()
            entry, field, doubtful = {}, "", False
        if not line:
            continue
        if line.startswith("#"):
            doubtful |= line.startswith("#,") and "fuzzy" in line
            continue
        quoted = line
        if not line.startswith('"'):
            field, _, quoted = line.partition(" ")
        if not field or not _QUOTED.fullmatch(quoted):
            raise ValueError(f"line {number} of the catalogue cannot be read")
        entry[field] = entry.get(field, "") + _ESCAPED.sub(lambda found: _SIGNS.get(found[1], found[1]), quoted[1:-1])
    return messages

"""The choice of a language: by option, by variable, in the set-up, else as the system says.

Paths are plain text here: a start has no time for more.
"""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

from tempo_coach.languages import ENGLISH, Language, speak

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

OPTION, VARIABLE = "--language", "TEMPO_COACH_LANGUAGE"
#: Name of the file with the language that was chosen in the set-up.
FILE_NAME = "language"
#: Variables in which POSIX systems keep a person's language, the strongest first (GNU gettext manual, "Locale
#: Environment Variables"); before them ``LANGUAGE`` is a list of wishes.
_SYSTEM = ("LC_ALL", "LC_MESSAGES", "LANG")


def kept_file() -> str:
    """Return the file with the language chosen in the set-up, in the person's data folder.

    Where that lies is said by :func:`tempo_coach.resources.own_folders` too, by a library that takes longer to load
    than a start may.
    """
    if sys.platform == "win32":
        folder = os.environ.get("LOCALAPPDATA") or "~/AppData/Local"
    elif sys.platform == "darwin":
        folder = os.environ.get("XDG_DATA_HOME") or "~/Library/Application Support"
    else:
        folder = os.environ.get("XDG_DATA_HOME") or "~/.local/share"
    return os.path.join(os.path.expanduser(folder), "tempo_coach", FILE_NAME)


def choose_language(words: Sequence[str], kept: str | None = None) -> str:
    """Switch to the requested language; return the request where it is unavailable.

    Parameters
    ----------
    words : sequence of str
        Of the command line.
    kept : str or None
        The file with what was chosen in the set-up.
    """
    speak(ENGLISH)
    asked = _asked_on(words) or os.environ.get(VARIABLE, "") or read_kept(kept)
    if asked:
        language = find_language(asked)
        if language is None:
            return asked
        speak(language)
        return ""
    for wish in system_languages(os.environ):
        # what the system says was not asked of this program: another language than there is stays unsaid
        if not wish:
            continue
        if _code(wish) in ("c", "posix") or _code(wish).split("_")[0] == ENGLISH.code:
            return ""
        language = find_language(wish)
        if language is not None:
            speak(language)
            return ""
    return ""


def find_language(asked: str) -> Language | None:
    """Return the language of a code, with or without its country; None where it is missing or unreadable."""
    code = _code(asked)
    short = code.split("_")[0]
    if ENGLISH.code in (code, short):
        return ENGLISH
    from tempo_coach.languages.catalogue import list_languages, read_language

    known = {each.lower(): each for each in list_languages()}
    for each in (code, short):
        if each in known:
            try:
                return read_language(known[each])
            except (OSError, ValueError):
                return None
    return None


def keep_language(code: str, file: str) -> None:
    """Keep the language chosen in the set-up; nothing for the system's own.

    Raises
    ------
    OSError
        If it cannot be written.
    """
    os.makedirs(os.path.dirname(file), exist_ok=True)
    with open(file, "w", encoding="utf-8") as out:
        out.write(f"{code}\n")


def system_languages(environment: Mapping[str, str]) -> Iterator[str]:
    """Yield the system's languages in order of preference."""
    named = next((value for name in _SYSTEM if (value := environment.get(name))), "")
    if named and _code(named) not in ("c", "posix"):  # where it is none, wishes are not asked for
        yield from environment.get("LANGUAGE", "").split(":")
    if named:
        yield named
        return
    if sys.platform == "win32":
        import ctypes
        import locale

        yield locale.windows_locale.get(ctypes.windll.kernel32.GetUserDefaultUILanguage(), "")


def _asked_on(words: Sequence[str]) -> str:
    for word, behind in zip(words, (*words[1:], ""), strict=False):
        if word == OPTION:
            return behind
        if word.startswith(f"{OPTION}="):
            return word.partition("=")[2]
    return ""


def read_kept(kept: str | None) -> str:
    """Return the code chosen in the set-up; empty without one."""
    if kept is None or not os.path.isfile(kept):
        return ""
    try:
        with open(kept, encoding="utf-8") as file:
            return file.read(20).strip()
    except (OSError, ValueError):
        return ""


def _code(wish: str) -> str:
    return wish.strip().partition(".")[0].partition("@")[0].replace("-", "_").lower()

"""Languages put together and checked: ``python -m tempo_coach.languages start pt``, ``update``, ``check``.

``start`` begins a language, ``update`` brings the catalogues up to the sentences of the program, ``check`` says what is
missing or wrong in them. They need Babel, which the extra ``test`` installs, and a copy of the repository.
"""

from __future__ import annotations

import argparse
import io
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from tempo_coach.languages import DAY, MONTHS, NUMBER, OWN_NAME, PERCENT, SENSE, SHORT_MONTHS, WEEKDAYS
from tempo_coach.languages.catalogue import FOLDER as CATALOGUES
from tempo_coach.languages.catalogue import TEXT, list_languages
from tempo_coach.languages.extraction import find_sentences
from tempo_coach.languages.kept_places import find_wrong

if TYPE_CHECKING:
    from babel.messages.catalog import Catalog

FOLDER = Path(CATALOGUES)
ROOT = FOLDER.parents[1]
TERMS = "terms.md"
HEAD = """# The sentences of tempo_coach in {language}.
# Corrections of those who speak it are welcome: change what stands behind msgstr, and send this file."""


def make_template() -> Catalog:
    """Return a catalogue of all sentences, none of them translated."""
    from babel.messages.catalog import Catalog

    template = Catalog(project="tempo_coach", header_comment="# The sentences of tempo_coach in another language.")
    for text, file in find_sentences(ROOT):
        sense, found, word = text.partition(SENSE) if isinstance(text, str) else ("", "", text)
        template.add(word if found else text, locations=[(file, 0)], context=sense if found else None)
    return template


def read_catalogue(code: str) -> Catalog:
    """Return the catalogue of a language as people wrote it."""
    from babel.messages.pofile import read_po

    with (FOLDER / code / TEXT).open("rb") as file:
        return read_po(file, locale=code)


def write_catalogue(code: str, catalogue: Catalog) -> None:
    """Write the catalogue of a language; the file stays as it is where nothing changed."""
    from babel.messages.pofile import write_po

    out = io.BytesIO()
    write_po(out, catalogue, width=110, include_lineno=False, ignore_obsolete=True)
    kept = [line for line in out.getvalue().splitlines() if not line.startswith(b'"POT-Creation-Date')]
    path = FOLDER / code / TEXT
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(b"\n".join([*kept, b""]))


def bring_up(code: str) -> Catalog:
    """Return the catalogue of a language with the sentences that the program has now; a new one has numbers' signs."""
    from babel.dates import get_date_format, get_day_names, get_month_names
    from babel.messages.catalog import Catalog
    from babel.numbers import format_decimal, format_percent

    known = (FOLDER / code / TEXT).is_file()
    catalogue = read_catalogue(code) if known else Catalog(locale=code, project="tempo_coach")
    catalogue.update(make_template(), no_fuzzy_matching=True)
    catalogue.header_comment = HEAD.format(language=catalogue.locale.english_name)
    catalogue[NUMBER].string = format_decimal(1234.5, locale=code)
    catalogue[PERCENT].string = format_percent(0.5, locale=code)
    catalogue[OWN_NAME].string = catalogue.locale.get_display_name(code)
    for names, width in ((SHORT_MONTHS, "abbreviated"), (MONTHS, "wide")):
        for number, name in enumerate(names, 1):
            catalogue[name].string = get_month_names(width, locale=code)[number]
    for number, name in enumerate(WEEKDAYS):
        catalogue[name].string = get_day_names(locale=code)[number]
    catalogue[DAY].string = say_day_form(get_date_format("long", locale=code).pattern)
    catalogue.fuzzy = False
    return catalogue


def say_day_form(pattern: str) -> str:
    """Return a pattern of a date as Unicode's data have it (LDML, "Date Field Symbol Table") as a form with places.

    Examples
    --------
    >>> say_day_form("d 'de' MMMM 'de' y")
    '{day} de {date:%B} de {year}'
    """
    places = {"d": "{day}", "M": "{date:%B}", "y": "{year}"}
    parts = re.findall(r"'([^']*)'|([dMy])\2*|(.)", pattern)
    return "".join(quoted or places.get(field, "") or sign for quoted, field, sign in parts)


def check(code: str) -> int:
    """Print what is missing or wrong in a language; return how much of it is wrong."""
    catalogue = bring_up(code)
    messages = [each for each in catalogue if each.id]
    missing = [
        each for each in messages if each.fuzzy or not each.string or (each.pluralizable and not all(each.string))
    ]
    print(f"{code}: {len(messages) - len(missing)} of {len(messages)} sentences")
    for each in missing:
        print(f"  missing: {each.id!r}")
    wrong = [(each, said) for each in messages if each not in missing if (said := find_wrong(each.id, each.string))]
    for each, said in wrong:
        print(f"  {said}: {each.id!r}: {each.string!r}")
    return len(wrong)


def main() -> int:
    """Do what the command line says."""
    parser = argparse.ArgumentParser(prog="python -m tempo_coach.languages", description=__doc__)
    parser.add_argument("what", choices=("start", "update", "check"))
    parser.add_argument("codes", nargs="*", metavar="CODE", help="languages, by default all that there are")
    asked = parser.parse_args()
    codes = asked.codes or [code for code in list_languages() if code != "en"]
    if asked.what == "check":
        return 1 if sum(map(check, codes)) else 0
    for code in codes:
        terms = FOLDER / code / TERMS
        write_catalogue(code, bring_up(code))
        if not terms.exists():
            terms.write_text(
                "| English | here | common practice or our own choice |\n|---|---|---|\n", encoding="utf-8"
            )
        print(f"{Path(code) / TEXT} is up to date")
    return 0


if __name__ == "__main__":
    sys.exit(main())

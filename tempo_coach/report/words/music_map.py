"""Map of a piece of music in words: its sections, accents and changes, and what is laid beside them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.music.counts.music_map import nearest_accent
from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.pattern.routine.routine import position_of
from tempo_coach.report.words.amounts import say_clock

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.music.counts.music_map import MapRow
    from tempo_coach.pattern.routine.routine import RoutineMoment

#: Counts within which an accent may have been meant by what is laid.
_MEANT = 2.0
#: How a section differs from the one before it.
CHANGES = {
    "louder": "louder",
    "softer": "softer",
    "brighter": "brighter",
    "darker": "darker",
    "denser": "denser",
    "sparser": "sparser",
}
#: What a moment of a routine does, as it is set beside an accent.
_DONE = {"toss": "tossed", "catch": "caught", "exchange": "exchanged"}
#: Signs for how loud an eight is: from soft to the loudest, 6 dB each.
_LOUD = ("", "·", "··", "···", "····")


def say_map(rows: Sequence[MapRow], counts: CountMap) -> list[str]:
    """Return the map as a table, a line an eight."""
    lines = [tr("  eight     time   loudness    attacks  section")]
    for row in rows:
        start = float(counts.seconds_at(counts.start_of_eight(row.number), after=True))
        level = tr(
            "{loud_db:d} dB {value:<4}",
            loud_db=round(row.loud_db),
            value=_LOUD[max(0, 4 + int(row.loud_db // 6))] if row.loud_db > -24 else "",
        )
        said = "; ".join(tell_eight(row, counts))
        lines.append(
            tr(
                "  {number:>5}  {clock:>7}  {level:>11}  {dense:>4.1f} a count  {section}  {said}",
                number=row.number,
                clock=say_clock(start),
                level=level,
                dense=row.dense,
                section=row.section,
                said=said,
            )
            if said
            else tr(
                "  {number:>5}  {clock:>7}  {level:>11}  {dense:>4.1f} a count  {section}",
                number=row.number,
                clock=say_clock(start),
                level=level,
                dense=row.dense,
                section=row.section,
            )
        )
    return lines


def tell_eight(row: MapRow, counts: CountMap) -> list[str]:
    """Return what the map says about one eight: a section that begins, how it differs, and its accents."""
    told = []
    if row.begins:
        said = tr("section {section} begins", section=row.section)
        changes = ", ".join(tr(CHANGES.get(each, each)) for each in row.changes)
        told.append(tr("{name}: {said}", name=said, said=changes) if changes else said)
    if row.accents:
        first = counts.start_of_eight(row.number)
        places = ", ".join(say_count(each.at - first) for each in row.accents)
        told.append(
            tr("accent on {places}", places=places)
            if len(row.accents) == 1
            else tr("accents on {places}", places=places)
        )
    return told


def tell_missed(moments: Sequence[RoutineMoment], rows: Sequence[MapRow], counts: CountMap) -> list[tuple[int, str]]:
    """Return for each toss, catch and exchange near an accent its eight, and where the accent is."""
    told = []
    for each in moments:
        if each.what not in _DONE:
            continue
        at = position_of(counts, each.at)
        near = nearest_accent(tuple(rows), at, within=_MEANT)
        if near is None or near.at == at:
            continue
        place = counts.place(near.at)
        where = tr(
            "the accent is on {count}" if place.eight == each.at.eight else "the accent is on {count} of eight {eight}",
            count=say_count(place.count - 1),
            eight=place.eight,
        )
        told.append(
            (
                each.at.eight,
                tr(
                    "{what} on count {count}, {where}",
                    what=tr(_DONE[each.what]),
                    count=say_count(each.at.count - 1),
                    where=where,
                ),
            )
        )
    return told


def map_values(rows: Sequence[MapRow], counts: CountMap) -> list[dict[str, object]]:
    """Return the map as plain values."""
    return [
        {
            "eight": row.number,
            "loud_db": row.loud_db,
            "attacks_a_count": row.dense,
            "section": row.section,
            "begins": row.begins,
            "changes": list(row.changes),
            "accents": [
                {"count": each.at - counts.start_of_eight(row.number) + 1, "strength": each.strength}
                for each in row.accents
            ],
        }
        for row in rows
    ]

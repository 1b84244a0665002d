"""Writer of a routine's file that preserves what the coach wrote: comments, order, style."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from tempo_coach.errors import CoachError
from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.resources import read_text, written_whole

if TYPE_CHECKING:
    from tomlkit import TOMLDocument

    from tempo_coach.music.counts.corrections import Correction
    from tempo_coach.music.counts.count_map import Position
    from tempo_coach.pattern.routine.routine import CutFrom, Routine


def write_routine(path: str | Path, routine: Routine) -> None:
    """Write a routine atomically; the comments and the order of an existing file are kept.

    Parameters
    ----------
    path : str or Path
    routine : Routine

    Raises
    ------
    CoachError
        If the file that is there is no TOML, or cannot be written.
    """
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    path = Path(path)
    try:
        document = tomlkit.parse(read_text(path, what="routine_to_write")) if path.exists() else tomlkit.document()
        _put_routine(document, routine)
        text = tomlkit.dumps(document)
    except (TOMLKitError, UnicodeDecodeError) as error:
        raise CoachError("routine.no_toml", where=str(path), said=error) from error
    with written_whole(path, what="routine") as temporary:
        temporary.write_text(text, encoding="utf-8")


def _put_routine(document: TOMLDocument, routine: Routine) -> None:
    """Update a document to a routine's values, touching only what differs."""
    _put(document, "title", routine.title, None)
    _put(document, "apparatus", routine.apparatus, "none")
    _put(document, "kind", routine.kind, "alone")
    _put(document, "notes", routine.notes, "")
    music = routine.music
    _put_table(
        document,
        "music",
        {
            "file": music.path,
            "sha256": music.content_hash,
            "tempo_bpm": music.tempo_bpm,
            "meter": music.meter,
            "one": music.one_at,
        },
    )
    _put_table(
        document,
        "movement",
        {name: _place(place) if place else None for name, place in (("first", routine.first), ("last", routine.last))},
    )
    _put_tables(document, "correction", [_correction(each) for each in routine.corrections])
    laid = [
        {
            "drill": each.drill,
            **_place(each.at),
            "eights": each.eights,
            "hand": each.hand or None,
            "mirrored": each.mirrored or None,
        }
        for each in routine.laid
    ]
    _put_tables(document, "lay", laid)
    moments = [
        {"what": each.what, **_place(each.at), "hand": each.hand or None, "text": each.text or None}
        for each in routine.moments
    ]
    _put_tables(document, "moment", moments)
    _put_tables(document, "steps", [{"start": _place(each.start), "end": _place(each.end)} for each in routine.steps])
    _put_tables(document, "remark", [{"eight": each.eight, "text": each.text} for each in routine.remarks])
    _put_cut(document, routine.cut)


def _put_cut(document: TOMLDocument, made: CutFrom | None) -> None:
    if made is None:
        for name in ("cut", "piece"):
            document.pop(name, None)
        return
    cut = made.cut
    values = {
        "file": made.path,
        "sha256": made.content_hash,
        "counts": made.counts_of,
        "silence": cut.silence,
        "tone": cut.tone,
        "fade": cut.fade,
        "loudness": made.loudness_lufs,
        "gain_db": cut.gain_db,
        "beats": list(made.beats),
        "eights": list(made.eights),
        "pauses": [time for pause in made.pauses for time in pause],
    }
    _put_table(document, "cut", values)
    pieces = [{"from": each.start, "to": each.end, "soft": each.soft or None} for each in cut.pieces]
    _put_tables(document, "piece", pieces)


def _place(place: Position) -> dict[str, Any]:
    return {"eight": place.eight, "count": say_count(place.count - 1)}


def _correction(each: Correction) -> dict[str, Any]:
    return {
        "do": each.do,
        "at": round(each.at, 4),
        "to": None if each.to is None else round(each.to, 4),
        "counts": each.counts,
        "tempo_bpm": None if each.tempo_bpm is None else round(each.tempo_bpm, 3),
        "times": [round(time, 4) for time in each.times] or None,
    }


def _put(table: Any, name: str, value: Any, default: Any) -> None:
    """Set an entry that differs; a default value is not written where there was no entry."""
    if value == default and value is not None:
        if name in table and table[name] != value:
            table[name] = value
    elif value is None:
        if name in table:
            del table[name]
    elif name not in table or table[name] != value:
        table[name] = value


def _put_table(document: TOMLDocument, name: str, values: dict[str, Any]) -> None:
    import tomlkit

    wanted = {key: value for key, value in values.items() if value not in (None, "")}
    if name not in document:
        if not wanted:
            return
        document[name] = tomlkit.table()
    for key, value in values.items():
        old = document[name].get(key)
        if _same_value(old, value):
            continue
        _put(document[name], key, _inline(value) if isinstance(value, dict) else (value or None), object())


def _put_tables(document: TOMLDocument, name: str, wanted: list[dict[str, Any]]) -> None:
    """Update an array of tables; equal ones at its beginning and end stay untouched."""
    import tomlkit

    new = [{key: value for key, value in each.items() if value is not None} for each in wanted]
    if not new:
        if name in document:
            del document[name]
        return
    if name not in document:
        document[name] = tomlkit.aot()
    array: Any = document[name]
    old = [each.unwrap() for each in array]
    if len(new) < len(old) or not all(_same_table(a, b) for a, b in zip(old, new, strict=False)):
        same = 0
        while same < min(len(old), len(new)) and _same_table(old[same], new[same]):
            same += 1
        kept = {id(each): (each, each.unwrap()) for each in list(array)[same:]}
        while len(array) > same:
            del array[len(array) - 1]
        for each in new[same:]:
            found = next((key for key, (_, values) in kept.items() if _same_table(values, each)), None)
            array.append(kept.pop(found)[0] if found is not None else _table(each))
        return
    for each in new[len(old) :]:
        array.append(_table(each))


def _table(values: dict[str, Any]) -> Any:
    import tomlkit

    table = tomlkit.table()
    for key, value in values.items():
        table[key] = _inline(value) if isinstance(value, dict) else value
    return table


def _inline(values: dict[str, Any]) -> Any:
    import tomlkit

    table = tomlkit.inline_table()
    table.update(values)
    return table


def _same_table(old: dict[str, Any], new: dict[str, Any]) -> bool:
    """Return whether two tables mean the same, however they are written (``count = 1``, or none for ``"1"``)."""
    defaults = {"count": "1", "eights": 1, "hand": "", "text": "", "mirrored": False, "times": []}
    names = old.keys() | new.keys()
    return all(_same_value(old.get(name, defaults.get(name)), new.get(name, defaults.get(name))) for name in names)


def _same_value(old: Any, new: Any) -> bool:
    if isinstance(old, dict) and isinstance(new, dict):
        return _same_table(dict(old), new)
    if isinstance(new, str) and isinstance(old, (int, float)):
        return str(old) == new
    return bool(old == new)

"""A plan as JSON, and back."""

from __future__ import annotations

import json
import math
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.pattern.drill.drill import CUE_WAYS
from tempo_coach.pattern.plan.plan import CueSounds, Eight, Moments, Music, MusicSegment, Plan, Section
from tempo_coach.resources import MOST_MIB, read_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

#: Raised whenever a reader of the version before could not understand the file any more.
PLAN_VERSION = 1


def plan_to_dict(plan: Plan) -> dict[str, Any]:
    """Return the plan as plain values for JSON.

    Returns
    -------
    dict
        Its ``moments`` are a list of ``{time, cycle, hand, label, kind, count, asked_lag_deg, cue}``; the lag is
        left out where nothing is asked.
    """
    moments = plan.moments
    rows: list[dict[str, Any]] = []
    for k in range(len(moments)):
        row: dict[str, Any] = {
            "time": float(moments.time[k]),
            "cycle": int(moments.cycle[k]),
            "hand": moments.hand[k],
            "label": moments.label[k],
            "kind": moments.kind[k],
            "count": float(moments.count[k]),
            "cue": bool(moments.cue[k]),
        }
        if not math.isnan(moments.asked_lag_deg[k]):
            row["asked_lag_deg"] = float(moments.asked_lag_deg[k])
        rows.append(row)
    source = (
        {"tempo": plan.tempo_bpm}
        if plan.music is None
        else {"music": {"path": plan.music.path, "hash": plan.music.content_hash}}
    )
    last = plan.eights[-1]
    return {
        "version": PLAN_VERSION,
        "drill": plan.drill,
        "title": plan.title,
        "apparatus": plan.apparatus,
        "pattern": plan.pattern,
        "hands": list(plan.hands),
        "cycle_counts": plan.cycle_counts,
        **source,
        "passage": {
            "from_eight": plan.eights[0].number,
            "eights": len(plan.eights),
            "first_count": plan.first_count,
            "end_count": last.start + last.length,
            "cycle_starts": plan.cycle_starts.tolist(),
        },
        "speed": plan.speed,
        "lead_in_counts": plan.lead_in_counts,
        "allowance": plan.allowance,
        "duration": plan.duration,
        "eights": [eight._asdict() for eight in plan.eights],
        "pieces": [piece._asdict() for piece in plan.pieces],
        "counts": {"time": plan.knot_times.tolist(), "count": plan.knot_counts.tolist()},
        "cue_way": plan.cue_way,
        "cues": [
            {"time": float(time), "sound": sound} for time, sound in zip(plan.cues.time, plan.cues.sound, strict=True)
        ],
        "moments": rows,
        **({"sections": [_section_to_dict(each) for each in plan.sections]} if plan.sections else {}),
    }


def _section_to_dict(section: Section) -> dict[str, Any]:
    return {
        "drill": section.drill,
        "title": section.title,
        "hands": list(section.hands),
        "first_cycle": section.first_cycle,
        "cycle_counts": section.cycle_counts,
        "allowance": section.allowance,
        "cycle_starts": list(section.cycle_starts),
        "pattern": section.pattern,
    }


def plan_from_dict(data: Mapping[str, Any], *, where: str) -> Plan:
    """Return the plan that :func:`plan_to_dict` wrote.

    Parameters
    ----------
    data : mapping
    where : str
        The file it came from, for errors.

    Raises
    ------
    CoachError
        If it comes from another version, or is not a whole plan.
    """
    version = data.get("version") if isinstance(data, dict) else None
    if version is None:
        raise CoachError("plan.none", where=where)
    if version != PLAN_VERSION:
        raise CoachError("plan.version", where=where, known=PLAN_VERSION, version=version)
    try:
        _check_shape(data, _SHAPE)
        return _check(_build(data))
    except (ValueError, OverflowError) as error:
        raise CoachError("plan.not_whole", where=where, said=str(error)[:200]) from error


def read_plan(path: str | Path) -> Plan:
    """Return the plan in a file that ``cue --plan`` wrote.

    Raises
    ------
    CoachError
        If there is no such file, or it holds no plan of this version.
    """
    where, text = str(path), read_text(path, what="plan", most_mib=MOST_MIB["plan"])
    try:
        data = json.loads(text)
    except json.JSONDecodeError as error:
        raise CoachError("plan.no_json", where=where, said=str(error)[:200]) from error
    except (ValueError, RecursionError) as error:
        code = "plan.too_deep" if isinstance(error, RecursionError) else "plan.too_many_digits"
        raise CoachError(code, where=where) from None
    return plan_from_dict(data, where=where)


#: The entries of a plan and their kinds; one whose name ends in ? may be missing.
_SHAPE: dict[str, Any] = {
    "drill": str,
    "title": str,
    "apparatus": str,
    "pattern": dict,
    "hands": [str],
    "cycle_counts": float,
    "tempo?": float,
    "music?": {"path": str, "hash": str},
    "passage?": {"cycle_starts?": [float]},  # plans from before a routine could be run through do not have them
    "speed": float,
    "lead_in_counts": float,
    "allowance": float,
    "duration": float,
    "eights": [{"number": float, "start": float, "length": float}],
    "pieces": [{"take_start": float, "music_start": float, "speed": float}],
    "counts": {"time": [float], "count": [float]},
    "cue_way": str,
    "cues": [{"time": float, "sound": str}],
    "moments": [
        {
            "time": float,
            "cycle": float,
            "hand": str,
            "label": str,
            "kind": str,
            "count": float,
            "asked_lag_deg?": float,
            "cue": bool,
        }
    ],
    "sections?": [
        {
            "drill": str,
            "title": str,
            "hands": [str],
            "first_cycle": float,
            "cycle_counts": float,
            "allowance": float,
            "cycle_starts": [float],
            "pattern": dict,
        }
    ],
}
_KINDS = {float: "a number", str: "words", bool: "true or false", dict: "names with values", list: "a list"}


def _check_shape(value: Any, shape: Any, place: str = "") -> None:
    """Refuse values of the wrong shape: a type, a list of one shape, or a mapping with a shape for each name.

    Raises
    ------
    ValueError
        If one is missing or of another kind: it says which, where, and what was found.
    """
    kind: Any = type(shape) if isinstance(shape, dict | list) else shape
    if type(value) is not kind and not (kind is float and type(value) is int):
        raise ValueError(f"{place or 'all of it'}: expected {_KINDS[kind]}, found {value!r:.40}")
    if isinstance(shape, list):
        for number, each in enumerate(value, start=1):
            if type(each) is not shape[0]:
                _check_shape(each, shape[0], f"{place} {number}")
    elif isinstance(shape, dict):
        for entry, inner in shape.items():
            name = entry.removesuffix("?")
            found = value.get(name)
            if type(found) is inner:
                continue
            if found is not None:
                _check_shape(found, inner, f"{place}, {name}" if place else name)
            elif name == entry:
                raise ValueError(f"{f'{place}: ' if place else ''}the entry {name!r} is missing")


#: What the numbers of a plan can be, by what they are.
_RANGES: dict[str, tuple[float, float]] = {
    "speed": (0.05, 20.0),
    "tempo": (1.0, 2000.0),
    "duration": (0.0, 1e6),
    "cycle_counts": (1e-3, 1e4),
    "allowance": (0.0, 10.0),
    "lead_in_counts": (0, 1000),
    "length of an eight": (1, 1000),
    "number of an eight": (-1000, 1e6),
    "number of a cycle": (0, 1e6),
    "time": (-1e6, 1e6),
    "count": (-1e6, 1e6),
    "asked_lag_deg": (-1e6, 1e6),
}


def _check(plan: Plan) -> Plan:
    """Return a plan, refusing numbers with which later work would never end, or divide by zero."""
    pieces, moments = plan.pieces, plan.moments
    numbers: list[tuple[str, Iterable[float]]] = [
        ("speed", [plan.speed, *(piece.speed for piece in pieces)]),
        ("tempo", [] if plan.tempo_bpm is None else [plan.tempo_bpm]),
        ("duration", [plan.duration]),
        ("cycle_counts", [plan.cycle_counts, *(each.cycle_counts for each in plan.sections)]),
        ("allowance", [plan.allowance, *(each.allowance for each in plan.sections)]),
        ("lead_in_counts", [plan.lead_in_counts]),
        ("length of an eight", [eight.length for eight in plan.eights]),
        ("number of an eight", [eight.number for eight in plan.eights]),
        ("number of a cycle", [*moments.cycle, *(each.first_cycle for each in plan.sections)]),
        ("time", [*moments.time, *plan.cues.time, *plan.knot_times]),
        ("time", [time for piece in pieces for time in (piece.take_start, piece.music_start)]),
        ("count", [*moments.count, *plan.knot_counts, *plan.cycle_starts, *(eight.start for eight in plan.eights)]),
        ("count", [start for each in plan.sections for start in each.cycle_starts]),
        ("asked_lag_deg", moments.asked_lag_deg[~np.isnan(moments.asked_lag_deg)]),
    ]
    for name, given in numbers:
        low, high = _RANGES[name]
        values = np.asarray(given, dtype=np.float64)
        wrong = values[~((values >= low) & (values <= high))]
        if wrong.size:
            raise ValueError(f"{name}: expected {low:g} to {high:g}, found {wrong[0]:g}")
    if len(pieces) != 1:
        raise ValueError(f"pieces: expected one, found {len(pieces)}")
    for hand in plan.hands:
        times = moments.time[moments.of_hand(hand)]
        if times.size > 1 and times[-1] <= times[0]:
            raise ValueError(f"time: expected moments of {hand} one after the other, found all at {times[0]:g} s")
    if any(later.start <= eight.start for eight, later in pairwise(plan.eights)):
        raise ValueError("expected eights one after the other")
    for each in plan.sections:
        if not (each.hands and each.cycle_starts and set(each.hands) <= set(plan.hands)):
            raise ValueError(f"sections: expected cycles, and hands of the plan, found {list(each.hands)[:3]}")
    if plan.cue_way not in CUE_WAYS:
        raise ValueError(f"expected a way of cueing ({', '.join(CUE_WAYS)}), found {str(plan.cue_way)[:40]!r}")
    return plan


def plain_text(value: object) -> str:
    """Return a JSON value as text that can be written and shown.

    Raises
    ------
    ValueError
        If it has half of a letter in it, as JSON can write one.
    """
    text = str(value)
    try:
        text.encode()
    except UnicodeEncodeError as error:
        raise ValueError(f"expected words, found half of a letter in {text[:40]!a}") from error
    return text


def _build(data: Mapping[str, Any]) -> Plan:
    rows, music = data["moments"], data.get("music")
    if music is None and data.get("tempo") is None:
        raise ValueError("it names neither a tempo nor a piece of music")
    return Plan(
        drill=plain_text(data["drill"]),
        title=plain_text(data["title"]),
        apparatus=plain_text(data["apparatus"]),
        hands=tuple(plain_text(hand) for hand in data["hands"]),
        cycle_counts=float(data["cycle_counts"]),
        tempo_bpm=None if music else float(data["tempo"]),
        music=Music(plain_text(music["path"]), plain_text(music["hash"])) if music else None,
        speed=float(data["speed"]),
        lead_in_counts=int(data["lead_in_counts"]),
        cue_way=data["cue_way"],
        allowance=float(data["allowance"]),
        eights=tuple(Eight(int(e["number"]), float(e["start"]), int(e["length"])) for e in data["eights"]),
        pieces=tuple(
            MusicSegment(float(p["take_start"]), float(p["music_start"]), float(p["speed"])) for p in data["pieces"]
        ),
        knot_times=np.array(data["counts"]["time"], dtype=np.float64),
        knot_counts=np.array(data["counts"]["count"], dtype=np.float64),
        duration=float(data["duration"]),
        moments=Moments(
            time=np.array([row["time"] for row in rows], dtype=np.float64),
            cycle=np.array([row["cycle"] for row in rows], dtype=np.int64),
            hand=tuple(plain_text(row["hand"]) for row in rows),
            label=tuple(plain_text(row["label"]) for row in rows),
            count=np.array([row["count"] for row in rows], dtype=np.float64),
            asked_lag_deg=np.array([row.get("asked_lag_deg", math.nan) for row in rows], dtype=np.float64),
            cue=np.array([bool(row["cue"]) for row in rows], dtype=np.bool_),
            kind=tuple(plain_text(row["kind"]) for row in rows),
        ),
        cues=CueSounds(
            np.array([cue["time"] for cue in data["cues"]], dtype=np.float64),
            tuple(plain_text(cue["sound"]) for cue in data["cues"]),
        ),
        pattern=data["pattern"],
        cycle_starts=np.array((data.get("passage") or {}).get("cycle_starts") or (), dtype=np.float64),
        sections=tuple(_build_section(each) for each in data.get("sections") or ()),
    )


def _build_section(row: Mapping[str, Any]) -> Section:
    return Section(
        plain_text(row["drill"]),
        plain_text(row["title"]),
        tuple(plain_text(hand) for hand in row["hands"]),
        int(row["first_cycle"]),
        float(row["cycle_counts"]),
        float(row["allowance"]),
        tuple(float(start) for start in row["cycle_starts"]),
        row["pattern"],
    )

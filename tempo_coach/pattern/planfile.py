"""A plan as JSON, and back."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.pattern.plan import CueSounds, Eight, Moments, Music, Piece, Plan
from tempo_coach.resources import MOST_MIB, read_text

if TYPE_CHECKING:
    from collections.abc import Mapping
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
        raise CoachError("expected a plan, found something else", where=where, hint=_HINT)
    if version != PLAN_VERSION:
        raise CoachError(f"expected a plan of version {PLAN_VERSION}, found version {version}", where=where, hint=_HINT)
    try:
        return _build(data)
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as error:
        missing = f"the entry {error} is missing" if isinstance(error, KeyError) else str(error)
        raise CoachError(f"this is not a whole plan: {missing}", where=where, hint=_HINT) from error


def read_plan(path: str | Path) -> Plan:
    """Return the plan in a file that ``cue --plan`` wrote.

    Raises
    ------
    CoachError
        If there is no such file, or it holds no plan of this version.
    """
    where, text = str(path), read_text(path, what="a plan in JSON", hint=_HINT, most_mib=MOST_MIB["plan"])
    try:
        data = json.loads(text)
    except (json.JSONDecodeError, RecursionError) as error:
        raise CoachError(f"expected a plan in JSON, but {error}", where=where, hint=_HINT) from error
    return plan_from_dict(data, where=where)


_HINT = "write it again with tempo-coach cue … --plan PLAN.json"


def _build(data: Mapping[str, Any]) -> Plan:
    rows = data["moments"]
    music = data.get("music")
    if music is None and data.get("tempo") is None:
        raise ValueError("it names neither a tempo nor a piece of music")
    return Plan(
        drill=str(data["drill"]),
        title=str(data["title"]),
        apparatus=str(data["apparatus"]),
        hands=tuple(str(hand) for hand in data["hands"]),
        cycle_counts=float(data["cycle_counts"]),
        tempo_bpm=None if music else float(data["tempo"]),
        music=Music(str(music["path"]), str(music["hash"])) if music else None,
        speed=float(data["speed"]),
        lead_in_counts=int(data["lead_in_counts"]),
        cue_way=data["cue_way"],
        allowance=float(data["allowance"]),
        eights=tuple(Eight(int(e["number"]), float(e["start"]), int(e["length"])) for e in data["eights"]),
        pieces=tuple(Piece(float(p["take_start"]), float(p["music_start"]), float(p["speed"])) for p in data["pieces"]),
        knot_times=np.array(data["counts"]["time"], dtype=np.float64),
        knot_counts=np.array(data["counts"]["count"], dtype=np.float64),
        duration=float(data["duration"]),
        moments=Moments(
            time=np.array([row["time"] for row in rows], dtype=np.float64),
            cycle=np.array([row["cycle"] for row in rows], dtype=np.int64),
            hand=tuple(str(row["hand"]) for row in rows),
            label=tuple(str(row["label"]) for row in rows),
            count=np.array([row["count"] for row in rows], dtype=np.float64),
            asked_lag_deg=np.array([row.get("asked_lag_deg", math.nan) for row in rows], dtype=np.float64),
            cue=np.array([bool(row["cue"]) for row in rows], dtype=np.bool_),
            kind=tuple(str(row["kind"]) for row in rows),
        ),
        cues=CueSounds(
            np.array([cue["time"] for cue in data["cues"]], dtype=np.float64),
            tuple(str(cue["sound"]) for cue in data["cues"]),
        ),
        pattern=dict(data["pattern"]),
        # plans that were written before a routine could be run through do not have them
        cycle_starts=np.array(data.get("passage", {}).get("cycle_starts", ()), dtype=np.float64),
    )

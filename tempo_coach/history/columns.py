"""Takes and scorecards as the columns of the history's file, and back: pure.

What lists and trends ask for has columns of its own; the rest of a plan or a scorecard is one compressed JSON body.
"""

from __future__ import annotations

import json
import math
import zlib
from typing import TYPE_CHECKING, Any

import numpy as np

from tempo_coach.history.records import Row
from tempo_coach.observe.take.onsets import Onsets
from tempo_coach.score.measures.parts import WITHOUT_CUES

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Mapping

    from tempo_coach.observe.take.onsets import Take

#: Measures of a scorecard that have columns under their own names.
_OWN = ("bias_ms", "spread_ms", "period_cv_pct", "period_ratio_mean", "drift_pct_per_cycle", "f_measure")
#: All columns of measures, with those of its block without cues: NULL where the take could not carry them.
MEASURES = (*_OWN, "without_cues_bias_ms", "without_cues_spread_ms")
#: How hard bodies are compressed: zlib's own usual level.
LEVEL = 6


def encode(values: Mapping[str, Any]) -> bytes:
    """Return values as JSON that is the same whatever the order in which they were put together."""
    return json.dumps(values, ensure_ascii=False, allow_nan=False, sort_keys=True).encode()


def pack_values(values: Mapping[str, Any]) -> bytes:
    """Return values as a compressed body."""
    return zlib.compress(encode(values), LEVEL)


def unpack_values(body: bytes) -> dict[str, Any]:
    """Return the values of a body of :func:`pack_values`.

    Raises
    ------
    zlib.error, ValueError
        If it is damaged.
    """
    values: dict[str, Any] = json.loads(zlib.decompress(body))
    return values


def pack_onsets(onsets: Onsets) -> tuple[str, bytes, bytes]:
    """Return the names of the hands as JSON, the times as float64 (little end first), and the hand of each as a byte.

    Raises
    ------
    ValueError
        If there are more than 256 hands.
    """
    hands = list(dict.fromkeys(onsets.hand))
    places = bytes(hands.index(hand) for hand in onsets.hand)
    return json.dumps(hands, ensure_ascii=False), onsets.time.astype("<f8").tobytes(), places


def unpack_onsets(hands: str, times: bytes, places: bytes) -> Onsets:
    """Return the onsets of :func:`pack_onsets`.

    Raises
    ------
    ValueError, LookupError
        If they are damaged.
    """
    names = json.loads(hands)
    return Onsets(np.frombuffer(times, dtype="<f8"), tuple(names[place] for place in places))


def card_columns(said: Mapping[str, Any]) -> dict[str, object]:
    """Return what a scorecard, as plain values, has in columns of its own."""
    blocks = {part["name"]: part for part in said["detail"]["by"].get("cues", ())}
    alone = blocks.get(WITHOUT_CUES, {})
    return {
        **{name: said[name] for name in (*_OWN, "n", "missed", "extra", "sentence")},
        "without_cues_bias_ms": alone.get("bias_ms"),
        "without_cues_spread_ms": alone.get("spread_ms"),
        "flagged": sum(bool(cycle["flags"]) for cycle in said["cycles"]),
    }


def row_of(row: sqlite3.Row) -> Row:
    """Return a take in a list, from columns under the names of :class:`Row`; what is NULL is NaN."""
    values = dict(zip(row.keys(), row, strict=True))
    for name in MEASURES:
        values[name] = math.nan if values[name] is None else values[name]
    values["steady"] = bool(values["steady"])
    return Row(**values)


def tempo_of(take: Take) -> float:
    """Return the tempo of a take as it was heard, in beats a minute: the median over its counts."""
    plan = take.plan
    inside = plan.knot_counts >= plan.first_count
    times, counts = plan.knot_times[inside], plan.knot_counts[inside]
    moved = np.diff(counts) > 0
    if not moved.any():
        return float((plan.tempo_bpm or 0.0) * plan.speed)
    return float(60.0 / np.median(np.diff(times)[moved] / np.diff(counts)[moved]))

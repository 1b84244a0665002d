"""Scorecards as plain values, for JSON: every number under its promised name, in ms and degrees, null for none."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.score.measures.timekeeping import MEASURES

if TYPE_CHECKING:
    from tempo_coach.score.faults.findings import Finding
    from tempo_coach.score.group.card import GroupCard
    from tempo_coach.score.group.together import Exchange
    from tempo_coach.score.measures.parts import Part
    from tempo_coach.score.scorecard import CycleCard, LagCard, Scorecard


def scorecard_to_dict(card: Scorecard) -> dict[str, object]:
    """Return a scorecard as plain values; extra names stand under ``detail``."""
    #: What stands behind a measure in the order that the contract has.
    behind: dict[str, dict[str, object]] = {
        "spread_ms": {"n": card.measures["bias_ms"].n},
        "drift_pct_per_cycle": {
            "cycles": [_cycle_to_dict(card, cycle) for cycle in card.cycles],
            "lags": [_lag_to_dict(lag) for lag in card.lags],
        },
        "motor_variance_ms2": {
            "missed": len(card.missed) if card.missing_known else None,
            "extra": len(card.extra_time) if card.missing_known else None,
            "missed_moments": [_moment_to_dict(card, int(k)) for k in card.missed if card.missing_known],
            "extra_onsets": [_onset_to_dict(card, k) for k in range(len(card.extra_time)) if card.missing_known],
        },
    }
    plain: dict[str, object] = {}
    for entry in MEASURES:
        plain[entry.key] = _plain(card.value(entry.key))
        plain.update(behind.get(entry.key, {}))
    return {
        **plain,
        "findings": [_finding_to_dict(card, found) for found in card.findings],
        "observed_by": card.observed_by,
        "noise_floor_ms": _plain(card.noise_floor_ms),
        "reasons": {about: reason.to_dict() for about, reason in card.reasons.items()},
        "detail": {
            "n": {name: measure.n for name, measure in card.measures.items()},
            "ci95": {
                name: None if math.isnan(measure.low) else [measure.low, measure.high]
                for name, measure in card.measures.items()
            },
            "lag_tests": [_chances_to_dict(lag) for lag in card.lags],
            "by": {by: [_part_to_dict(part) for part in parts] for by, parts in card.parts.items()},
        },
    }


def _finding_to_dict(card: Scorecard, found: Finding) -> dict[str, object]:
    return {
        "kind": found.kind,
        "cycle": found.cycle if card.placed else None,
        "hand": found.hand or None,
        "moment": found.moment or None,
        "by_ms": _plain(found.by_ms),
        "by_counts": _plain(found.by_counts),
        "ratio": _plain(found.ratio),
        "confidence": _plain(found.confidence),
        "same_as": list(found.same_as),
    }


def group_to_dict(card: GroupCard) -> dict[str, object]:
    """Return the scorecard of a group as plain values; extra names stand under ``detail``."""
    return {
        "members": [
            {
                "member": m.member,
                "bias_ms": _ms(m.bias),
                "offset_ms": _ms(m.offset),
                "spread_ms": _ms(m.spread),
                "n": m.n,
            }
            for m in card.members
        ],
        "group_r": _plain(card.resultant),
        "group_r_chance": _plain(card.chance),
        "group_sd_ms": _ms(card.sd),
        "group_range_ms": _ms(card.width),
        "apart": [{"eight": a.eight, "count": a.count, "range_ms": _ms(a.width)} for a in card.apart],
        "pairs": [
            {
                "a": p.a,
                "b": p.b,
                "follows": p.follows,
                "gain": _plain(p.gain),
                "n": p.n,
                "ci95": None if math.isnan(p.low) else [p.low, p.high],
            }
            for p in card.pairs
        ],
        "left": [
            {
                "member": one.member,
                "from": {"eight": one.from_eight, "count": one.from_count},
                "to": {"eight": one.to_eight, "count": one.to_count},
                "offset_ms": _ms(one.offset),
                "spread_ms": _ms(one.spread),
                "uneven": one.uneven,
                "n": one.n,
            }
            for one in card.left
        ],
        "canon": [{"member": member, "counts": counts} for member, counts in card.canon.items()],
        "reasons": {about: reason.to_dict() for about, reason in card.reasons.items()},
        "detail": {
            "usual_ms": {m.member: _ms(m.median_offset) for m in card.members},
            "by_eight": [
                {
                    "member": one.member,
                    "eight": one.eight,
                    "offset_ms": _ms(one.offset),
                    "spread_ms": _ms(one.spread),
                    "n": one.n,
                    "away": one.away,
                }
                for one in card.by_eight
            ],
            "wandered": [{"eight": one.eight, "offset_ms": _ms(one.offset)} for one in card.wandered],
            "sides": card.sides
            and {"ahead": list(card.sides.ahead), "behind": list(card.sides.behind), "gap_ms": _ms(card.sides.gap)},
            "left": [{"member": one.member, "others_range_ms": _ms(one.others), "back": one.back} for one in card.left],
            "observed": [
                {
                    "member": m.member,
                    "observed_by": m.observed_by,
                    "noise_floor_ms": _ms(m.noise),
                    "unsure_ms": _ms(m.unsure),
                }
                for m in card.members
            ],
            "pairs": [
                {"a": p.a, "b": p.b, "correlation": {str(lag): _plain(r) for lag, r in p.correlation.items()}}
                for p in card.pairs
                if p.correlation
            ],
            "over_time": [
                {"eight": t.eight, "group_r": t.resultant, "sd_ms": _ms(t.sd), "range_ms": _ms(t.width), "n": t.n}
                for t in card.over_time
            ],
            "exchanges": [_exchange_to_dict(exchange) for exchange in card.exchanges],
        },
    }


def _moment_to_dict(card: Scorecard, k: int) -> dict[str, object]:
    moments = card.plan.moments
    place = card.plan.place(float(moments.count[k])) if card.placed else None
    return {
        "time": float(moments.time[k]),
        "cycle": int(moments.cycle[k]) if card.placed else None,
        "hand": moments.hand[k],
        "label": moments.label[k],
        "eight": place.eight if place else None,
        "count": place.count if place else None,
    }


def _onset_to_dict(card: Scorecard, k: int) -> dict[str, object]:
    time = float(card.extra_time[k])
    place = card.plan.place(float(card.plan.counts_at(time))) if card.placed else None
    eight, count = (place.eight, place.count) if place else (None, None)
    return {"time": time, "hand": card.extra_hand[k], "eight": eight, "count": count}


def _cycle_to_dict(card: Scorecard, cycle: CycleCard) -> dict[str, object]:
    return {
        "cycle": cycle.cycle if card.placed else None,
        "eight": cycle.eight if card.placed else None,
        "count": cycle.count if card.placed else None,
        "time": _plain(cycle.time),
        "hand": cycle.hand,
        "period_ms": _ms(cycle.period),
        "period_ratio": _plain(cycle.ratio),
        "moments": [
            {"label": label, "async_ms": _ms(time)}
            for label, time in zip(cycle.labels, cycle.asynchronies, strict=True)
        ],
        "flags": [str(flag) for flag in cycle.flags],
    }


def _lag_to_dict(card: LagCard) -> dict[str, object]:
    lag = card.lag
    interval = (
        None if math.isnan(lag.half_interval) else [lag.degrees - lag.half_interval, lag.degrees + lag.half_interval]
    )
    return {
        "of": card.of,
        "to": card.to,
        "label": card.label,
        "asked_deg": _plain(card.asked),
        "deg": _plain(lag.degrees),
        "error_deg": _plain(lag.error),
        "ms": _ms(lag.seconds),
        "sd_deg": _plain(lag.sd) if lag.n > 1 else None,
        "R": _plain(lag.resultant) if lag.n > 1 else None,
        "n": lag.n,
        "ci95_deg": interval,
    }


def _chances_to_dict(card: LagCard) -> dict[str, object]:
    chances = card.chances
    return {
        "of": card.of,
        "to": card.to,
        "label": card.label,
        "rayleigh_p": _plain(chances.none),
        "v_p": _plain(chances.asked),
        "without_cue_p": _plain(chances.same),
    }


def _part_to_dict(part: Part) -> dict[str, object]:
    interval = None if math.isnan(part.low) else [part.low * 1000, part.high * 1000]
    return {
        "name": part.name,
        "bias_ms": _ms(part.bias),
        "spread_ms": _ms(part.spread),
        "n": part.n,
        "ci95_ms": interval,
    }


def _exchange_to_dict(exchange: Exchange) -> dict[str, object]:
    return {
        "eight": exchange.eight,
        "count": exchange.count,
        "release_async_ms": _ms(exchange.released),
        "release_range_ms": _ms(exchange.released_width),
        "catch_async_ms": _ms(exchange.caught),
        "catch_range_ms": _ms(exchange.caught_width),
        "throws": [
            {"from": t.thrower, "to": t.catcher, "flight_ms": _ms(t.flight), "asked_ms": _ms(t.asked)}
            for t in exchange.throws
        ],
    }


def _plain(number: float) -> float | None:
    return float(number) if math.isfinite(number) else None


def _ms(seconds: float) -> float | None:
    return _plain(seconds * 1000)

"""Invented takes of invented gymnasts, quickly made."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np

from tempo_coach import coach
from tempo_coach.history.columns import LISTED, TakeRow
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.report.words.card import card_to_dict


@cache
def lay(drill: str = "clubs_mills", tempo_bpm: float = 100, cycles: int = 8, cues: str = "thinning"):
    return coach.lay(coach.Request(drill, tempo_bpm=tempo_bpm, cycles=cycles, cues=cues))


def make_take(seed: int = 1, *, spread: float = 0.02, bias: float = 0.0, **options):
    plan = lay(**options)
    times = plan.moments.time + bias + np.random.default_rng(seed).normal(0, spread, len(plan.moments))
    order = np.argsort(times, kind="stable")
    return Take(plan, Onsets(times[order], tuple(plan.moments.hand[k] for k in order)), observed_by="tap")


@cache
def said_of(seed: int = 1):
    return card_to_dict(coach.judge_take(make_take(seed)))


def put(history, seed: int = 1, *, athlete: str = "Ada", begun: str = "2031-05-04T18:15:00", **more):
    return history.put(make_take(seed), said_of(seed), athlete=athlete, begun=begun, steady=True, **more)


_KNOWN: dict[str, object] = dict(  # noqa: C408  as fields are written
    number=1,
    athlete="Ada",
    begun="2031-05-04T18:15:00",
    drill="clubs_mills",
    title="Mills",
    routine="",
    observed_by="tap",
    tempo_bpm=100.0,
    speed=1.0,
    seconds=60.0,
    cues="all",
    reason="",
    cycles=8,
    moments=16,
    n=16,
    missed=0,
    extra=0,
    flagged=0,
    steady=True,
    bias_ms=-10.0,
    spread_ms=20.0,
    period_cv_pct=3.0,
    period_ratio_mean=1.0,
    drift_pct_per_cycle=0.0,
    f_measure=1.0,
    scatter_pct=3.0,
    without_cues_bias_ms=-10.0,
    without_cues_spread_ms=30.0,
    sentence="Even.",
)
#: A take of which nothing else is known.
ROW = TakeRow(**{**dict.fromkeys(LISTED, math.nan), **_KNOWN})


def row(**changes):
    return replace(ROW, **changes)

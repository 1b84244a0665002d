"""Invented takes of two drills, each off by what is asked, and their scorecards."""

import numpy as np

from tempo_coach import coach
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.score.card import judge

MILLS = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=16))
ROPE = coach.lay(coach.Request("rope_figure_eight", tempo_bpm=100, cycles=16))


def card(plan, off=0.0, *, sd=0.008, seed=1, keep=None, observed_by="file", times=None):
    generator = np.random.default_rng(seed)
    times = (plan.moments.time if times is None else times) + off + generator.normal(0, sd, len(plan.moments))
    keep = range(len(plan.moments)) if keep is None else keep
    onsets = Onsets.unsorted([times[k] for k in keep], [plan.moments.hand[k] for k in keep])
    return judge(Take(plan, onsets, observed_by=observed_by))


def late(plan, which, by):
    off = np.zeros(len(plan.moments))
    off[which] = by
    return off

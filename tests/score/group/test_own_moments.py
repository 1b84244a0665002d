"""Members' own moments: which whole step of even ones she is at, where an onset is too many and another missed."""

import numpy as np
import pytest

from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.plan.every_count import lay_every_count
from tempo_coach.score.group.own_moments import pair_own_part

STEP = 0.5
PLAN = lay_every_count(CountMap.steady(60 / STEP), end=23.9, tempo_bpm=60 / STEP)
MOMENTS = PLAN.moments.time
#: Usual scatter of one who keeps time in seconds: some 3 % of the step (Wing and Kristofferson 1973, from memory).
SCATTER = 0.012


def member(*, late, first=20, last=28, extra=None, missed=None, seed=1):
    """Return what is true of her, NaN where missed, and what is told: late in some counts, one too many, one missed."""
    true = np.random.default_rng(seed).normal(0, SCATTER, len(MOMENTS))
    true[first:last] += late
    if missed is not None:
        true[missed] = np.nan
    times = (MOMENTS + true)[~np.isnan(true)].tolist()
    times += [] if extra is None else [float(MOMENTS[extra])]
    take = Take(PLAN, Onsets.unsorted(times, ["body"] * len(times)), observed_by="clap")
    return true, pair_own_part(take, "Ada", ())[0]


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(
    ("late", "extra", "missed"),
    [(0.19, 20, 32), (0.1, 21, 27), (-0.13, 25, 21), (-0.14, 26, 20)],
)
def test_one_too_many_and_one_missed_do_not_shift_what_lies_between_by_a_step(late, extra, missed, seed):
    true, told = member(late=late, extra=extra, missed=missed, seed=seed)
    others = [k for k in range(len(MOMENTS)) if k not in (extra, missed)]
    assert told[others] == pytest.approx(true[others])


@pytest.mark.parametrize("share", [0.6, 0.7, 0.8])
@pytest.mark.parametrize("sign", [-1, 1])
def test_who_is_late_by_more_than_half_a_step_for_a_while_stays_late(share, sign):
    true, told = member(late=sign * share * STEP)
    assert told == pytest.approx(true)


def test_who_drifts_by_a_step_and_back_is_followed():
    away = STEP * np.interp(np.arange(len(MOMENTS)), [8, 20, 28, 40], [0, 1, 1, 0])
    take = Take(PLAN, Onsets.unsorted((MOMENTS + away).tolist(), ["body"] * len(MOMENTS)))
    assert pair_own_part(take, "Ada", ())[0] == pytest.approx(away)

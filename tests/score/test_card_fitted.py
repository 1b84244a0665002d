"""A take that was put where it fits: everything but how early or late the whole of it is."""

import math

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.words.card import format_card
from tempo_coach.report.words.sentence import tell
from tempo_coach.score.card import judge, judge_fitted
from tempo_coach.score.measures.timekeeping import MEASURES

PLAN = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=8))


def take(late=0.0, times=PLAN.moments.time, hands=PLAN.moments.hand):
    wobble = 0.01 * np.sin(np.arange(len(times)))
    return Take(PLAN, Onsets.unsorted(np.asarray(times) + wobble + late, hands))


@pytest.mark.parametrize(
    ("confidence", "reason"),
    [
        (None, Reason(Why.ANY_CIRCLE)),
        (0.876, Reason(Why.FITTED, (0.876,))),
    ],
)
def test_only_the_bias_goes(confidence, reason):
    fitted, card = judge_fitted(take(0.03), confidence=confidence), judge(take(0.03))
    bias = fitted.measures["bias_ms"]
    assert all(math.isnan(number) for number in (bias.value, bias.low, bias.high))
    assert bias.n == card.measures["bias_ms"].n
    assert bias.reason == fitted.notes["placing"] == reason
    for name in [entry.key for entry in MEASURES[1:]]:
        assert repr(fitted.measures[name]) == repr(card.measures[name])
    assert {**card.notes, "placing": bias.reason} == fitted.notes
    assert repr(fitted.cycles) == repr(card.cycles)


def test_where_the_place_is_not_known_nothing_is_said_of_it():
    late = 0.47 * float(np.median(np.diff(PLAN.cycle_starts))) * 0.6
    assert judge(take(late)).findings[0].kind == "half_cycle_off"
    fitted = judge_fitted(take(late), confidence=0.5)
    assert [found.kind for found in fitted.findings] == ["even"]
    assert not fitted.placed
    assert np.isnan(fitted.value("bias_ms"))


def test_a_reason_that_was_there_stays():
    fitted = judge_fitted(take(times=[], hands=[]), confidence=0.5)
    assert fitted.measures["bias_ms"].reason == Reason(Why.NO_PAIR)


@pytest.mark.parametrize(("confidence", "told"), [(0.23, False), (0.8, True), (None, True)])
def test_nothing_is_said_of_missing_moments_where_the_place_is_doubtful(confidence, told):
    without = np.delete(np.arange(len(PLAN.moments)), [5, 9])
    hands = [PLAN.moments.hand[k] for k in without]
    fitted = judge_fitted(take(times=PLAN.moments.time[without], hands=hands), confidence=confidence)
    values = fitted.to_dict()
    assert (values["missed"], len(values["missed_moments"])) == ((2, 2) if told else (None, 0))
    assert ("2 missed" in format_card(fitted)) == told
    assert ("missed" in {flag.kind for cycle in fitted.cycles for flag in cycle.flags}) == told
    assert ("missed" in {found.kind for found in fitted.findings}) == told
    assert ("missed" in fitted.reasons) != told


def test_no_cycle_is_told_that_the_noise_of_a_film_without_markers_could_have_made():
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=16))
    times = plan.moments.time + np.random.default_rng(0).normal(0, 0.004, len(plan.moments))
    times = np.where(plan.moments.cycle >= 8, times + 0.15, times)
    seen = Take(plan, Onsets.unsorted(times.tolist(), plan.moments.hand), observed_by="film")
    flagged = coach.judge_placed(coach.Placed(seen, True, None, mark_sd=0.006)).flagged
    assert flagged == coach.judge_placed(coach.Placed(seen, True, None)).flagged != ()
    for mark_sd in (0.04, math.inf):
        card = coach.judge_placed(coach.Placed(seen, True, None, mark_sd=mark_sd))
        assert not card.flagged and card.findings[0].kind == "even"
    assert "cycles" in card.notes
    assert "cannot be told" in tell(card)

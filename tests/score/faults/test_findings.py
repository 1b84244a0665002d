"""Findings: each way of going wrong, in drills of one hand and two, even and uneven; what was done comes first."""

from functools import cache
from typing import get_args

import numpy as np
import pytest

from tempo_coach.live.mixing.spoken import choose_words
from tempo_coach.report.words.card import card_to_dict, format_card
from tempo_coach.score.card import judge
from tempo_coach.score.faults.broken import kinds_of
from tempo_coach.score.faults.detection import find_faults
from tempo_coach.score.faults.findings import DOUBTFUL, Finding, Happened
from tempo_coach.score.faults.merged import merge
from tempo_coach.score.faults.models import STEP
from tempo_coach.score.pairing.hand import follow_hands
from tests.benchmarks.alike import right_kinds
from tests.benchmarks.faults import Fault, lay, period_of
from tests.benchmarks.judging import TUNING, Draw, cases
from tests.benchmarks.performers import Who, perform
from tests.benchmarks.seen import find

DRILLS = ("clubs_mills", "rope_figure_eight", "ball_bounces", "clubs_asymmetric")
TWO_HANDS = ("clubs_mills", "clubs_asymmetric", "clubs_mills_overhead")


@cache
def told(drill, fault, seed=1, cycles=16, spread=0.02):
    """What is found in a take of an even performer with this fault."""
    performed = perform(lay(drill, cycles), Who(spread=spread), np.random.default_rng(seed), fault)
    return judge(performed.take), performed


def first(drill, fault, **more):
    card, performed = told(drill, fault, **more)
    found = card.findings[0]
    assert {found.kind, *found.same_as} & right_kinds(performed), (found, right_kinds(performed))
    return found, performed


@pytest.mark.parametrize("drill", DRILLS)
def test_even_takes_are_even(drill):
    for seed in range(3):
        assert [found.kind for found in told(drill, Fault(), seed=seed)[0].findings] == ["even"]


@pytest.mark.parametrize("drill", DRILLS)
@pytest.mark.parametrize(("kind", "by"), [("long", 0.3), ("short", -0.3)])
def test_long_and_short_cycle(drill, kind, by):
    found, performed = first(drill, Fault(kind, cycle=7, by=by * period_of(lay(drill, 16))))
    if found.kind == kind:
        assert found.cycle == 7
        assert found.ratio == pytest.approx(1 + by, abs=0.1)
        assert found.by_ms == pytest.approx(1000 * performed.fault.by, rel=0.35)
        assert found.by_counts == pytest.approx(by * performed.take.plan.cycle_counts, rel=0.35)


def moment_in(plan, cycle):
    return int(np.flatnonzero(plan.moments.cycle == cycle)[-1])


@pytest.mark.parametrize("drill", DRILLS)
@pytest.mark.parametrize(("kind", "way"), [("late", 1), ("early", -1)])
def test_late_and_early_moment(drill, kind, way):
    plan = lay(drill, 16)
    moment = moment_in(plan, 6)
    mine = plan.moments.time[plan.moments.of_hand(plan.moments.hand[moment])]
    by = 0.4 * float(np.diff(mine).min())
    found, _ = first(drill, Fault(kind, moment=moment, by=way * by), spread=0.01)
    if found.kind == kind:
        assert (found.cycle, found.hand, found.moment) == (6, plan.moments.hand[moment], plan.moments.label[moment])
        assert found.by_ms == pytest.approx(1000 * way * by, rel=0.35)


@pytest.mark.parametrize("drill", DRILLS)
def test_missed_moment(drill):
    plan = lay(drill, 16)
    moment = moment_in(plan, 6)
    found, _ = first(drill, Fault("missed", moment=moment))
    assert (found.kind, found.cycle, found.hand, found.moment) == (
        "missed", 6, plan.moments.hand[moment], plan.moments.label[moment],
    )  # fmt: skip


@pytest.mark.parametrize("drill", DRILLS)
def test_extra_onset(drill):
    plan = lay(drill, 16)
    moment = int(np.flatnonzero(plan.moments.cycle == 6)[0])
    mine = plan.moments.of_hand(plan.moments.hand[moment])
    step = float(plan.moments.time[mine[mine > moment][0]] - plan.moments.time[moment])
    found, _ = first(drill, Fault("extra", moment=moment, by=0.45 * step))
    assert (found.kind, found.cycle, found.hand) == ("extra", 6, plan.moments.hand[moment])


@pytest.mark.parametrize("drill", DRILLS)
def test_hesitation(drill):
    plan = lay(drill, 16)
    moment = moment_in(plan, 6)
    by = 0.7 * float(np.median(np.diff(plan.moments.time[plan.moments.of_hand(plan.hands[0])])))
    found, _ = first(drill, Fault("hesitated", moment=moment, by=by))
    if found.kind in ("hesitated", "slipped"):
        assert abs(found.cycle - 6) <= 1
        assert found.by_ms == pytest.approx(1000 * by, rel=0.25)


@pytest.mark.parametrize(
    ("counts", "sd", "kinds"),
    [
        (2.3, 0.1, ("hesitated",)),
        (2.3, 0.16, ("hesitated", "slipped")),
        (0.4, 0.25, ("hesitated",)),
        (0.4, 0.35, ("hesitated", "slipped")),
        (2.1, 0.0, ("slipped", "hesitated")),
        (-0.6, 0.0, ("slipped", "hesitated")),
    ],
)
def test_step_as_long_as_whole_counts_as_far_as_can_be_told_may_be_either(counts, sd, kinds):
    plan = lay("ball_flip", 8)
    assert kinds_of(plan, STEP, counts / plan.cycle_counts, sd / plan.cycle_counts) == kinds


@pytest.mark.parametrize("drill", ["ball_bounces", "clubs_asymmetric", "rope_figure_eight"])
def test_slip_by_a_count(drill):
    found, _ = first(drill, Fault("slipped", cycle=7, counts=1.0))
    assert abs(found.cycle - 7) <= 1
    assert round(found.by_counts) == 1


@pytest.mark.parametrize("drill", ["clubs_mills", "rope_figure_eight", "clubs_asymmetric"])
@pytest.mark.parametrize(("kind", "way"), [("all_late", 1), ("all_early", -1)])
def test_all_late_and_all_early(drill, kind, way):
    plan = lay(drill, 24)
    found, _ = first(drill, Fault(kind, by=way * 0.2), cycles=24)
    assert found.kind == kind
    assert found.by_ms == pytest.approx(way * 200, abs=60)
    assert found.by_counts == pytest.approx(way * 0.2 / period_of(plan) * plan.cycle_counts, rel=0.3)


@pytest.mark.parametrize("drill", DRILLS)
@pytest.mark.parametrize("cut", [True, False])
def test_late_entry(drill, cut):
    found, performed = first(drill, Fault("late_entry", cycle=3, cut=cut))
    assert found.kind == "late_entry"
    assert round(found.by_counts) == 3 * performed.take.plan.cycle_counts


@pytest.mark.parametrize("drill", DRILLS)
def test_stop(drill):
    plan = lay(drill, 16)
    found, _ = first(drill, Fault("stopped", moment=moment_in(plan, 8)))
    assert (found.kind, found.cycle) == ("stopped", 9)


@pytest.mark.parametrize("drill", DRILLS)
@pytest.mark.parametrize("ratio", [0.5, 0.9, 1.12, 2.0])
def test_another_tempo_is_hers_over_the_one_asked(drill, ratio):
    found, _ = first(drill, Fault("other_tempo", ratio=ratio))
    assert found.kind == "other_tempo"
    assert found.ratio == pytest.approx(ratio, rel=0.03)


@pytest.mark.parametrize("drill", DRILLS)
@pytest.mark.parametrize("whole", [0.25, -0.2])
def test_drift(drill, whole):
    found, _ = first(drill, Fault("drifting", by=whole / 23), cycles=24)
    assert found.kind == "drifting"
    assert found.ratio == pytest.approx(1 + whole, abs=0.1)


@pytest.mark.parametrize("drill", ["clubs_asymmetric", "clubs_mills", "clubs_mills_overhead"])
def test_swapped_hands(drill):
    first(drill, Fault("hands_swapped"))


@pytest.mark.parametrize("drill", ["rope_figure_eight", "clubs_mills", "ball_bounces"])
@pytest.mark.parametrize("way", [1, -1])
def test_half_a_cycle_off(drill, way):
    found, performed = first(drill, Fault("half_cycle_off", by=way * period_of(lay(drill, 16)) / 2))
    if found.kind == "half_cycle_off":
        assert found.by_counts == pytest.approx(way * performed.take.plan.cycle_counts / 2, abs=0.3)


@pytest.mark.parametrize("drill", TWO_HANDS)
def test_lag_of_one_hand_is_told_of_that_hand(drill):
    plan = lay(drill, 24)
    step = float(np.diff(plan.moments.time[plan.moments.of_hand("left")]).min())
    found, _ = first(drill, Fault("lag_off", hand="left", by=0.3 * step), cycles=24)
    assert (found.kind, found.hand) == ("lag_off", "left")
    assert found.by_ms == pytest.approx(300 * step, rel=0.3)


@pytest.mark.parametrize("drill", DRILLS)
def test_no_rhythm_and_too_little(drill):
    assert first(drill, Fault("no_rhythm"))[0].kind == "no_rhythm"
    assert first(drill, Fault("too_little", moment=1))[0].kind == "too_little"


def test_every_kind_that_there_is_is_looked_for_here():
    looked_for = {
        "even", "long", "short", "late", "early", "missed", "extra", "hesitated", "slipped", "all_late", "all_early",
        "late_entry", "stopped", "other_tempo", "drifting", "hands_swapped", "half_cycle_off", "lag_off", "no_rhythm",
        "too_little",
    }  # fmt: skip
    assert set(get_args(Happened)) == looked_for


def test_confidence_lies_between_0_and_1_and_what_is_not_known_is_nan():
    for fault in (Fault(), Fault("missed", moment=20), Fault("long", cycle=5, by=0.4)):
        for found in told("clubs_mills", fault)[0].findings:
            assert 0 <= found.confidence <= 1
    assert np.isnan([Finding("even").by_ms, Finding("even").ratio, Finding("even").confidence]).all()


#: Takes with a late moment of half the usual size, in which something doubtful is found.
DOUBTFUL_TAKES = (("clubs_mills", "late", 4), ("rope_skips_single", "late", 13))


@pytest.mark.parametrize(("drill", "kind", "number"), DOUBTFUL_TAKES)
def test_what_is_doubtful_breaks_no_cycle_for_anybody(drill, kind, number):
    draw = Draw(TUNING, lengths=(16, 32), spreads=((0.02, 0.03),), sizes=(0.5,))
    (performed,) = cases(drill, kind, 1, draw, first=number)
    card = judge(performed.take)
    assert [found.kind for found in card.told] == ["even"]
    assert len(card.findings) > 1 and all(found.confidence < DOUBTFUL for found in card.findings[1:])
    # the card, the pages and the history count what is flagged, and the voice after the take says it
    assert not card.flagged
    assert "What broke" not in format_card(card)
    assert not {"late", "early", "long", "short"} & set(choose_words(card))
    plain = card_to_dict(card)
    assert not any(cycle["flags"] or cycle["words"] for cycle in plain["cycles"])
    assert [found["kind"] for found in plain["findings"]] == [found.kind for found in card.findings]


def test_findings_are_told_in_order_of_certainty_and_each_one_pays_for_itself():
    draw = Draw(TUNING, lengths=(16,), spreads=((0.03, 0.05),), families=("heavy",))
    seen = 0
    for drill in ("ribbon_boomerang", "ribbon_spirals"):
        for performed in cases(drill, "even", 12, draw):
            findings = judge(performed.take).findings
            doubtful = [found.is_doubtful for found in findings]
            assert doubtful == sorted(doubtful)
            seen += any(doubtful)
            layout = merge(performed.take, *follow_hands(performed.take))
            assert all(each.gain >= 0 for each in find_faults(layout.layout, layout.hand, layout.late).faults)
    assert seen


def test_findings_without_the_measures_are_those_of_the_whole_card():
    for drill in ("clubs_mills", "rope_wrap_release"):
        for performed in cases(drill, "late", 2, Draw(TUNING, lengths=(8, 16))):
            assert repr(find(performed.take).findings) == repr(judge(performed.take).findings)

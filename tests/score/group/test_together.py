"""A group over time and its exchanges: exact values."""

import math

import numpy as np
import pytest

from tempo_coach.music.counts.count_map import CountMap, Position
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.drill.drill import Drill
from tempo_coach.pattern.drill.pattern import Hand, Moment, Pattern
from tempo_coach.pattern.plan.every_count import lay_every_count
from tempo_coach.pattern.plan.layout import lay_out
from tempo_coach.pattern.routine.routine import MusicFile, Routine, RoutineMoment
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.words.group import format_group
from tempo_coach.score.group.group import judge_group, measure_group
from tempo_coach.score.group.one_recording import judge_mix
from tempo_coach.score.group.together import EightSynchrony, measure_over_time, read_exchanges
from tests.refused import refused

TEMPO = 120  # a count is 0.5 s
COUNTS = lay_every_count(CountMap.steady(TEMPO), end=15.9, tempo_bpm=TEMPO)
THROWN = lay_out(
    Drill(
        "exchange",
        "An exchange",
        "ball",
        Pattern(8.0, (), (Hand("hands", (Moment(0, "throw", "release"), Moment(4, "catch", "catch"))),)),
    ),
    CountMap.steady(TEMPO),
    tempo_bpm=TEMPO,
    cycles=3,
    lead_in_counts=0,
)


def take(times, plan=COUNTS):
    return Take(plan, Onsets.unsorted(list(times), [plan.hands[0]] * len(times)))


def test_every_count_is_asked_for_from_the_first_one_on():
    assert COUNTS.moments.time == pytest.approx(np.arange(32) * 0.5)
    assert [eight.number for eight in COUNTS.eights] == [1, 2, 3, 4]


def test_one_moment_of_five_eight_by_eight():  # exact
    off = np.array([0, 12, -8, 25, -15.0])[:, None] / 1000
    card = measure_group(tuple("abcde"), np.tile(off, 32), COUNTS)
    assert [stretch.eight for stretch in card.over_time] == [1, 2, 3, 4]
    for stretch in card.over_time:
        assert stretch.resultant == pytest.approx(0.983987, abs=1e-6)
        assert stretch.sd == pytest.approx(0.015959323, abs=1e-9)
        assert stretch.width == pytest.approx(0.040)
        assert stretch.n == 8


def test_each_eight_has_the_means_of_its_own_moments():  # exact
    found = measure_over_time([2, 1, 2, 4], np.array([0.5, 1, 0.75, 0.25]), np.array([1.0, 2, 3, 4]), np.arange(4.0))
    assert found == (
        EightSynchrony(1, 1.0, 2.0, 1.0, 1),
        EightSynchrony(2, 0.625, 2.0, 1.0, 2),
        EightSynchrony(4, 0.25, 4.0, 3.0, 1),
    )
    assert measure_over_time([], *[np.array([])] * 3) == ()


def test_the_eight_in_which_it_widens_is_told():
    off = np.zeros((3, 32))
    off[2, 16:24] = 0.1
    card = measure_group(("a", "b", "c"), off, COUNTS)
    assert [round(s.width * 1000) for s in card.over_time] == [0, 0, 100, 0]
    assert "eight   3   100 ms" in format_group(card)


def test_an_eight_in_which_nobody_was_together_is_left_out():
    off = np.zeros((2, 32))
    off[1, 8:16] = np.nan
    assert [s.eight for s in measure_group(("a", "b"), off, COUNTS).over_time] == [1, 3, 4]


def test_an_exchange_from_hand_to_hand():  # exact: 2 s are asked; a 20 ms late, b catches 50 ms early
    asked = THROWN.moments.time
    early = np.where(np.array(THROWN.moments.kind) == "catch", -0.05, 0.0)
    takes = {"a": take(asked + 0.02, THROWN), "b": take(asked + early, THROWN)}
    card = judge_group(takes, partners={"a": "b", "b": "a"})
    assert len(card.exchanges) == 3
    first = card.exchanges[0]
    assert (first.eight, first.count) == (1, 1)
    assert first.released == pytest.approx(0.01)
    assert first.released_width == pytest.approx(0.02)
    assert first.caught == pytest.approx(-0.015)
    assert first.caught_width == pytest.approx(0.07)
    flights = {(t.thrower, t.catcher): t.flight for t in first.throws}
    assert flights[("a", "b")] == pytest.approx(2 - 0.07)
    assert flights[("b", "a")] == pytest.approx(2 + 0.02)
    text = format_group(card)
    assert "a to b: 1.93 s from hand to hand, 70 ms shorter than asked" in text
    plain = card.to_dict()["detail"]["exchanges"][0]
    assert plain["throws"][0] == {
        "from": "a",
        "to": "b",
        "flight_ms": pytest.approx(1930),
        "asked_ms": pytest.approx(2000),
    }


def test_a_catch_that_was_missed_has_no_flight():
    asked = THROWN.moments.time
    takes = {"a": take(asked, THROWN), "b": take(np.delete(asked, 3), THROWN)}
    throws = [exchange.throws[0] for exchange in judge_group(takes, partners={"a": "b"}).exchanges]
    assert [math.isnan(t.flight) for t in throws] == [False, True, False]


def test_a_plan_without_throws_says_so():
    card = judge_group({"a": take(COUNTS.moments.time), "b": take(COUNTS.moments.time)}, partners={"a": "b"})
    assert not card.exchanges
    assert card.reasons["exchanges"] == Reason(Why.NO_RELEASE)


def test_a_partner_who_is_not_there_is_said():
    takes = {"a": take(COUNTS.moments.time), "b": take(COUNTS.moments.time)}
    with refused(r"--exchange: expected a member \(a, b\), found z"):
        judge_group(takes, partners={"a": "z"})


def test_one_recording_of_several_has_widths_and_no_members():
    times = np.concatenate([COUNTS.moments.time + late for late in (0.0, 0.03, -0.02)])
    card = judge_mix(take(times))
    assert card.members == ()
    assert card.width == pytest.approx(0.05)
    assert card.sd == pytest.approx(np.std([0, 0.03, -0.02], ddof=1))
    # each count is a cycle of half a second
    assert card.resultant == pytest.approx(abs(np.exp(2j * np.pi * np.array([0, 0.03, -0.02]) / 0.5).mean()), abs=1e-9)
    assert card.reasons["members"] == Reason(Why.ONE_RECORDING)
    assert "Who was who cannot be told" in format_group(card)
    with refused("no moment of the plan has two onsets"):
        judge_mix(take(COUNTS.moments.time))


def routine(*moments):
    return Routine("five, invented", MusicFile("five.wav"), kind="group", moments=moments)


def test_an_exchange_where_the_routine_has_it():  # exact: thrown on 2, 3 and caught on 2, 7: 2 s are asked
    asked = read_exchanges(
        routine(
            RoutineMoment("catch", Position(2, 7.0)),
            RoutineMoment("other", Position(1, 1.0)),
            RoutineMoment("exchange", Position(2, 3.0), "a:b, b : a"),
            RoutineMoment("exchange", Position(2, 3.0), "c:c"),
        )
    )
    times = COUNTS.moments.time
    off = np.zeros((3, 32))
    off[0, 10], off[1, 14], off[2] = 0.02, -0.05, 0.1
    takes = {name: take(times + row) for name, row in zip("abc", off, strict=True)}
    first, second = judge_group(takes, exchanges=asked).exchanges
    assert (first.eight, first.count) == (2, 3)
    assert [(t.thrower, t.catcher) for t in first.throws] == [("a", "b"), ("b", "a")]
    assert [t.flight for t in first.throws] == pytest.approx([1.93, 2.0])
    assert [t.asked for t in first.throws] == pytest.approx([2.0, 2.0])
    assert first.released_width == pytest.approx(0.1)
    assert [(t.thrower, t.flight) for t in second.throws] == [("c", pytest.approx(2.0))]


def test_an_exchange_without_names_takes_the_partners_that_are_given():
    asked = read_exchanges(
        routine(RoutineMoment("exchange", Position(1, 1.0)), RoutineMoment("catch", Position(1, 5.0)))
    )
    takes = {name: take(COUNTS.moments.time) for name in "ab"}
    assert judge_group(takes, exchanges=asked).exchanges[0].throws == ()
    (throw,) = judge_group(takes, exchanges=asked, partners={"a": "b"}).exchanges[0].throws
    assert throw.flight == pytest.approx(2.0)
    assert "exchanges" not in judge_group(takes, exchanges=asked, partners={"a": "b"}).reasons


@pytest.mark.parametrize(
    ("moments", "message"),
    [
        (
            [RoutineMoment("exchange", Position(1, 1.0), "a:b")],
            "eight 1 count 1: expected a catch behind the exchange",
        ),
        (
            [
                RoutineMoment("exchange", Position(1, 1.0), "a:b"),
                RoutineMoment("toss", Position(1, 3.0)),
                RoutineMoment("catch", Position(1, 5.0)),
            ],
            "expected a catch behind the exchange, before anything else",
        ),
        (
            [RoutineMoment("exchange", Position(1, 1.0), "a"), RoutineMoment("catch", Position(1, 5.0))],
            "found 'a'",
        ),
        (
            [
                RoutineMoment("exchange", Position(1, 1.0), "a:b, a:c"),
                RoutineMoment("catch", Position(1, 5.0)),
            ],
            "found 'a:c'",
        ),
    ],
)
def test_an_exchange_that_cannot_be_read(moments, message):
    with refused(message):
        read_exchanges(routine(*moments))


@pytest.mark.parametrize(
    ("at", "said"), [(Position(9, 1.0), "eight 9 count 1"), (Position(1, 1.5), "eight 1 count 1&")]
)
def test_an_exchange_where_the_plan_has_no_moment(at, said):
    asked = read_exchanges(routine(RoutineMoment("exchange", at, "a:b"), RoutineMoment("catch", Position(9, 5.0))))
    with refused(f"{said}, where the plan has no moment"):
        judge_group({name: take(COUNTS.moments.time) for name in "ab"}, exchanges=asked)


def test_an_exchange_with_somebody_who_is_not_there():
    asked = read_exchanges(
        routine(RoutineMoment("exchange", Position(1, 1.0), "a:z"), RoutineMoment("catch", Position(1, 5.0)))
    )
    with refused(r"expected a member \(a, b\), found z"):
        judge_group({name: take(COUNTS.moments.time) for name in "ab"}, exchanges=asked)

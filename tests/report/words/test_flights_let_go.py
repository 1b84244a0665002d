"""The one thing to work on where something is let go: each fault alone, made by hand."""

import re

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.report.words.sentence import tell
from tempo_coach.score.card import judge

TOSS = coach.lay(coach.Request("ball_toss_turn", tempo_bpm=100, cycles=10))
RIBBON = coach.lay(coach.Request("ribbon_boomerang", tempo_bpm=100, cycles=10))
ROLL = coach.lay(coach.Request("hoop_floor_roll", tempo_bpm=100, cycles=10))


def said(plan, late, *, sd=0.004, keep=None, seed=1):
    """Sentence for a take whose moments of each kind are late by so much, seconds for each cycle."""
    generator = np.random.default_rng(seed)
    times = plan.moments.time + generator.normal(0, sd, len(plan.moments))
    for kind, by in late.items():
        mine = [k for k, each in enumerate(plan.moments.kind) if each == kind]
        times[mine] += np.broadcast_to(by, len(mine))
    keep = np.ones(len(times), dtype=bool) if keep is None else keep
    hands = [hand for hand, kept in zip(plan.moments.hand, keep, strict=True) if kept]
    return tell(judge(Take(plan, Onsets.unsorted(times[keep].tolist(), hands), observed_by="film")))


@pytest.mark.parametrize("plan", [TOSS, RIBBON, ROLL])
def test_as_asked_is_called_good(plan):
    assert said(plan, {}).startswith("Even and in time")


@pytest.mark.parametrize(
    ("by", "words"),
    [
        (0.15, "too long (3.25 counts instead of 3"),
        (-0.15, "too short (2.75 counts instead of 3"),
    ],
)
def test_flights_of_another_height(by, words):
    told = said(TOSS, {"catch": by})
    assert words in told
    off = int(re.search(r": (\d+) ms, between", told).group(1))
    assert off == pytest.approx(150, abs=5)
    assert told.endswith(f"10 flights): throw {'lower' if by > 0 else 'higher'}.")


@pytest.mark.parametrize(("by", "way", "length"), [(0.15, "late", "short"), (-0.15, "early", "long")])
def test_a_release_beside_the_count_is_to_blame_for_the_flight(by, way, length):
    told = said(TOSS, {"release": by})
    assert told.startswith(f"You let go too {way} (1")
    assert f"and the flight is too {length}: let go on the count." in told


def test_a_release_that_takes_the_catch_along():
    told = said(TOSS, {"release": 0.15, "catch": 0.15})
    assert told.startswith("You let go too late (1")
    assert "the flight itself has its counts" in told


def test_flights_that_differ():
    told = said(TOSS, {"catch": np.tile([0.14, -0.14], 5)})
    assert told.startswith("Of 10 flights: 5 too long and 5 too short (they differ by 1")
    assert told.endswith("throw to the same height each time.")


def test_what_cannot_be_heard_is_no_fault():
    assert "flight" not in said(TOSS, {"catch": 0.03})
    assert "let go" not in said(TOSS, {"release": 0.03})


def test_too_few_flights_seen_say_nothing_of_all():
    moments = TOSS.moments
    keep = np.array([kind != "catch" or cycle < 4 for kind, cycle in zip(moments.kind, moments.cycle, strict=True)])
    assert "flight" not in said(TOSS, {"catch": 0.15}, keep=keep)


def test_a_roll_has_no_flight():
    assert "flight" not in said(ROLL, {"catch": 0.15})


def test_pulls_before_the_floor():
    told = said(RIBBON, {"contact": [0.42] * 4 + [0] * 6})
    assert told == (
        "In 4 of 10 boomerangs the pull came before the stick was down (0.2 counts before the floor): "
        "wait for the floor, then pull."
    )


def test_a_stick_that_lies_too_long():
    told = said(RIBBON, {"contact": [-0.2] * 5 + [0] * 5, "pull": [0.2] * 5 + [0] * 5})
    assert told.startswith("In 5 of 10 boomerangs the stick lay too long (1.2 counts after the floor): pull while")


def test_late_with_the_stick():
    told = said(RIBBON, {"contact": [0.4] * 5 + [0] * 5, "pull": [0.4] * 5 + [0] * 5})
    assert "the stick came down late and so did the pull (the pull 0.7 counts behind its own)" in told


def test_the_more_frequent_fault_is_told_and_the_other_counted():
    told = said(RIBBON, {"contact": [0.42] * 3 + [0.4] * 2 + [0] * 5, "pull": [0] * 3 + [0.4] * 2 + [0] * 5})
    assert told.startswith("In 3 of 10 boomerangs the pull came before")
    assert told.endswith("In 2 more something else was wrong with it.")

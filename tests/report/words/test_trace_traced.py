"""What a trace showed, in sentences and as values."""

import json
import math
import re
import statistics
from dataclasses import replace

import pytest

from tempo_coach.observe.trace.uneven import Uneven
from tempo_coach.pattern.drill.pattern import Hand, Moment, Pattern, Phase
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.words.reasons import say_reason
from tempo_coach.report.words.trace import format_study, say_place, say_taught, say_uneven, study_to_dict
from tempo_coach.score.measures.phase import Lag
from tempo_coach.score.trace.body_lag import BodyLag
from tempo_coach.score.trace.study import CirclePhase, Study, study
from tests.generators import movement

NAN = math.nan
PHASES = (Phase("low", 0, 2), Phase("empty", 2, 2.5), Phase("high", 2.5, 4))


@pytest.fixture(scope="module")
def mills():
    made = movement.mills(2, fault="long")
    return study(made.trace, asked_deg=180), made.trace


@pytest.fixture(scope="module")
def rope():
    made = movement.rope(2, fault="extra")
    return study(made.trace), made.trace


def first_line(found):
    periods = found.main.cycles.periods
    spread = 100 * statistics.stdev(periods) / statistics.median(periods)
    return f"{found.main.cycles.number} cycles of {statistics.median(periods):.3f} s, periods within {spread:.1f} %"


def test_the_most_useful_is_said_first(mills):
    found, trace = mills
    lines = format_study(found, trace).splitlines()
    assert lines[0] == f"first: 21 circles, {first_line(found)}"
    lag = found.lags[0].lag
    assert lines[1].startswith(f"second trails first by {lag.degrees:.1f}° ± {lag.half_interval:.1f}° (")
    assert lines[1].endswith(f"({1000 * lag.seconds:.0f} ms, 180° asked)")
    assert lines[2] == f"first: {say_uneven(found.uneven[0][1])}"
    assert "no cycle stands out" not in "".join(lines)


def test_circles_are_told_beside_what_is_taught_the_low_one_first(rope):
    found, trace = rope
    lines = format_study(found, trace, taught="one while low, two while high").splitlines()
    assert lines[0] == f"x y: 51 circles in {first_line(found)}"
    at = {f"{round(100 * place.at) % 100}": place.at for place in found.places}
    # made with circles at 0, 41 and 62 %
    told = re.fullmatch(
        r"taught: one while low, two while high; this take: one at (\d+) % at the bottom, one at (\d+) % as it is "
        r"almost up, one at (\d+) % as it starts down \(0 % is the cycle's low point\)",
        lines[1],
    )
    assert told is not None
    assert set(told.groups()) == set(at)
    (rotation,) = study_to_dict(found, trace)["rotations"]
    assert lines[2] == (
        f"{rotation['circles_in_room']:.2f} small circles (against the clock) a big cycle (to and fro) in the room, "
        f"{rotation['circles_on_arm']:.2f} as the arm feels them"
    )
    assert lines[3].startswith("x y: cycle 9: a circle too many (4 in it), from 16.")
    untaught = format_study(found, trace)
    assert "\nthis take: one at" in untaught and "taught" not in untaught


def test_a_circle_just_before_the_low_point_is_told_first_and_as_0_per_cent(rope):
    found = replace(rope[0], places=(CirclePhase(0.4, 0.01, 9), CirclePhase(0.997, 0.01, 9)))
    assert "this take: one at 0 % at the bottom, one at 40 % as" in format_study(found, rope[1])


def test_what_was_read_left_out_and_not_sure_is_said(mills):
    found, trace = mills
    main = found.main
    rhythm = replace(main.cycles.rhythm, confidence=0.4, alternatives=(1.2, 0.3), candidates=())
    shaky = replace(main, circles=replace(main.circles, cycles=replace(main.cycles, rhythm=rhythm)))
    text = format_study(
        replace(found, bodies=(shaky,), uneven=(), lags=(), left_out=(Reason(Why.NO_FLIGHTS, ("too rough",)),)),
        replace(trace, notes=(Reason(Why.TIME_IN_UNIT, ("t", "ms")),)),
    )
    assert text.splitlines() == [
        "read: time: t in ms",
        f"first: 21 circles, {first_line(found)}",
        "the period is not sure: it could be 1.200 s or 0.300 s; --period S decides",
        "not found: flights: too rough",
    ]


def test_nothing_that_repeats_has_no_cycles_in_words_or_values(mills):
    nothing = Study((), (), (), (), (), (Reason(Why.NO_CYCLES, ("none",)),))
    assert format_study(nothing, mills[1]).splitlines() == [
        *(f"read: {note}" for note in map(say_reason, mills[1].notes)), "not found: cycles: none",
    ]  # fmt: skip
    plain = json.loads(json.dumps(study_to_dict(nothing, mills[1]), allow_nan=False))
    assert (plain["period_s"], plain["period_confidence"], plain["cycles"], plain["circles"]) == (None, None, [], [])


def test_as_values(mills, rope):
    plain = json.loads(json.dumps(study_to_dict(*mills), allow_nan=False))
    assert plain["period_s"] == pytest.approx(0.6, abs=0.002)
    assert len(plain["cycles"]) == 21
    assert {each["part"] for each in plain["circles"]} == {"first", "second"}
    (lag,) = plain["lags"]
    assert (lag["of"], lag["to"], lag["asked_deg"]) == ("second", "first", 180.0)
    assert sum(lag["ci95_deg"]) / 2 == pytest.approx(lag["deg"], abs=1e-3)
    flags = {each["part"]: each for each in plain["flags"]}
    assert (flags["first"]["kind"], flags["first"]["cycle"]) == ("long", 10)
    assert flags["first"]["words"].startswith("cycle 11 is 2")
    assert plain["rotations"] == [] and plain["flights"] == []
    (rotation,) = study_to_dict(*rope)["rotations"]
    assert rotation["separable"] and rotation["circles_in_room"] == pytest.approx(3.1, abs=0.01)
    assert rotation["small_hz"] / rotation["big_hz"] == pytest.approx(rotation["circles_in_room"], abs=0.01)


def lag_of(mills, *, reason=None, caution=None, asked=NAN, **lag):
    values = {
        "degrees": 90.04,
        "error": NAN,
        "seconds": 0.15,
        "sd": 3.26,
        "resultant": 0.99,
        "n": 12,
        "half_interval": 2.04,
    }
    made = BodyLag("left", "right", asked, Lag(**{**values, **lag}), reason, caution)
    told = format_study(replace(mills[0], bodies=(), uneven=(), left_out=(), lags=(made,)), mills[1]).splitlines()[-1]
    return told, study_to_dict(replace(mills[0], lags=(made,)), mills[1])["lags"][0]


@pytest.mark.parametrize(
    ("lag", "said", "interval"),
    [
        ({}, "left trails right by 90.0° ± 2.0° (150 ms)", [88.0, 92.08]),
        ({"half_interval": NAN, "asked": 90.0}, "left trails right by 90.0° (150 ms, 90° asked)", None),
        (
            {"caution": Reason(Why.NO_CYCLES, ("hold it",))},
            "left trails right by 90.0° ± 2.0° (150 ms); cycles: hold it",
            [88.0, 92.08],
        ),
        ({"n": 0}, "left and right have no cycles in common", [88.0, 92.08]),
        (
            {"degrees": NAN, "half_interval": NAN, "reason": Reason(Why.NO_FLIGHTS, ("turned",))},
            "by how much left trails right cannot be told: flights: turned (it varies by 3.3°)",
            None,
        ),
    ],
)
def test_a_lag_in_words(mills, lag, said, interval):
    told, plain = lag_of(mills, **lag)
    assert told == said
    assert plain["ci95_deg"] == interval
    assert plain["deg"] == (None if math.isnan(lag.get("degrees", 0.0)) else 90.04)


@pytest.mark.parametrize(
    ("flag", "said"),
    [
        (Uneven("long", 0, 0, 1.0, 2.256, 1.256), "cycle 1 is 26 % longer than its neighbours, from 1.00 to 2.26 s"),
        (Uneven("short", 4, 4, 1.0, 2.0, 0.875), "cycle 5 is 12 % shorter than its neighbours, from 1.00 to 2.00 s"),
        (Uneven("missed", 2, 2, 1.0, 2.0, 2.0), "cycle 3: a circle is missing, from 1.00 to 2.00 s"),
        (Uneven("extra", 2, 2, 1.0, 2.0, 0.5, 4), "cycle 3: a circle too many (4 in it), from 1.00 to 2.00 s"),
        (Uneven("missed", 2, 2, 1.0, 2.0, 1.0, 0), "cycle 3: a circle is missing (0 in it), from 1.00 to 2.00 s"),
        (Uneven("irregular", 2, 5, 1.0, 4.0, 1.5), "cycles 3 to 6 are irregular, from 1.00 to 4.00 s"),
    ],
)
def test_which_cycle_broke_and_how(flag, said):
    assert say_uneven(flag) == said


@pytest.mark.parametrize(
    ("at", "said"),
    [
        (0.0, "at the bottom"), (0.06, "at the bottom"), (0.07, "as it starts up"), (0.25, "half-way up"),
        (0.4, "as it is almost up"), (0.5, "at the top"), (0.6, "as it starts down"), (0.75, "half-way down"),
        (0.9, "as it is almost down"), (0.95, "at the bottom"), (1.25, "half-way up"), (-0.5, "at the top"),
    ],
)  # fmt: skip
def test_a_place_in_a_coachs_words(at, said):
    assert say_place(at) == said


def test_what_is_taught_is_counted_phase_by_phase():
    def taught(*places, phases=PHASES):
        return say_taught(Pattern(4.0, phases, (Hand("right", tuple(Moment(at, f"m{at}") for at in places)),)))

    assert taught(0, 1.0, 2.5) == "two while low, one while high"
    assert taught(*(k / 8 for k in range(7))) == "7 while low"
    assert taught(0, 1, phases=()) == "2 a cycle"


def test_what_cannot_be_told_apart_says_why(rope):
    found, trace = rope
    main = found.main
    (separation,) = main.circles.separations
    unsure = replace(separation, reasons=(Reason(Why.ONE_SPEED), Reason(Why.BACKWARDS)))
    found = replace(found, bodies=(replace(main, circles=replace(main.circles, separations=(unsure,))),))
    assert (
        "small and big movement cannot be told apart safely: both turn at nearly one speed; a phase would run backwards"
        in format_study(found, trace)
    )
    assert not study_to_dict(found, trace)["rotations"][0]["separable"]


def test_every_level_at_which_something_repeats_is_told_with_its_evidence():
    # small circles carried round a bigger one: both repeat, and all of it at the bigger one alone
    trace = movement.carried(3).trace
    found = study(trace)
    small, big = study_to_dict(found, trace)["levels"]
    assert (small["is_cycle"], big["is_cycle"]) == (False, True)
    assert small["period_s"] == pytest.approx(0.4, rel=0.02) and big["period_s"] == pytest.approx(1.6, rel=0.02)
    assert all(0.8 < each["alike"] <= 1 for each in (small, big))
    assert f"alike); {big['period_s']:.3f} s" in format_study(found, trace)

"""A good take becomes a drill that reads back, and is set beside what is taught."""

import math
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from tempo_coach.pattern.drill.drill_file import find_drill, read_drill
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.words.learned import write_drill
from tempo_coach.score.trace.learn import learn_drill, place_taught, set_beside
from tempo_coach.score.trace.study import CirclePhase, study
from tests.generators import movement
from tests.refused import refused


def test_a_rope_take_becomes_a_drill_with_its_own_places(tmp_path: Path) -> None:
    found = study(movement.rope(5).trace)
    learned = learn_drill(found, title='A "good" take', apparatus="rope", counts=4)
    path = tmp_path / "good.toml"
    path.write_text(write_drill(learned), encoding="utf-8")
    drill = read_drill(path)
    assert drill.title == 'A "good" take'
    assert drill.pattern.cycle_counts == 4
    assert drill.practice.tempo_bpm == pytest.approx(120, rel=0.03)
    # the low point is in the middle of the phase low
    places = np.array([moment.at for moment in drill.pattern.hands[0].moments]) / 4 - 0.125
    np.testing.assert_allclose(places, [0.0, 0.41, 0.62], atol=0.012)
    assert all(abs(row.off) < 1e-3 for row in set_beside(drill.pattern, found))


def test_two_clubs_keep_their_lag(tmp_path: Path) -> None:
    found = study(movement.mills(5, lag=0.5).trace)
    path = tmp_path / "mills.toml"
    path.write_text(write_drill(learn_drill(found, title="mills", counts=2)), encoding="utf-8")
    drill = read_drill(path)
    assert drill.pattern.hand_names == ("first", "second")
    assert drill.pattern.hands[1].moments[0].at == pytest.approx(1, abs=0.05)
    assert drill.practice.tempo_bpm == pytest.approx(200, rel=0.03)


def test_hands_are_named_by_the_words_of_the_header_or_asked_for() -> None:
    alone = study(movement.rope(5).trace)
    with refused("which hand did it; say --hand right"):
        learn_drill(alone, title="t", counts=4, hand=None)

    def called(found: object, *names: str) -> list[str]:
        bodies = zip(found.bodies, names, strict=True)
        lags = [replace(lag, of=name) for lag, name in zip(found.lags, names[1:], strict=True)]
        named = replace(found, bodies=tuple(replace(mover, name=name) for mover, name in bodies), lags=tuple(lags))
        return [hand.name for hand in learn_drill(named, title="t", counts=2, hand=None).hands]

    assert called(alone, "poignet gauche") == ["left"]
    both = study(movement.mills(5, lag=0.5).trace)
    assert called(both, "Handgelenk rechts", "Handgelenk links") == ["right", "left"]
    assert called(both, "right club", "right wrist") == ["right club", "right wrist"]


def test_what_stood_out_is_left_out_and_said() -> None:
    learned = learn_drill(study(movement.rope(3, fault="extra").trace), title="t", tempo_bpm=120)
    assert learned.counts == 4
    assert any("extra" in reason.args for reason in learned.left_out)
    assert "# left out: cycle" in write_drill(learned)


def test_taught_and_done_differ_as_they_were_made() -> None:
    # taught: two circles while high; a good take shows them as the arm is almost up and as it starts down
    drill = read_drill(find_drill("rope_figure_eight"))
    rows = set_beside(drill.pattern, study(movement.rope(4).trace))
    assert [row.label for row in rows] == ["low", "high 1", "high 2"]
    off = [row.off for row in rows]
    np.testing.assert_allclose(off, [0.0, 0.41 - 0.4375, 0.62 - 0.5625], atol=0.012)


def test_a_circle_too_few_and_one_too_many_are_told() -> None:
    drill = read_drill(find_drill("rope_figure_eight"))
    fewer = set_beside(drill.pattern, study(movement.rope(4, places=(0.0, 0.5)).trace))
    assert sum(row.done is None for row in fewer) == 1
    more = set_beside(drill.pattern, study(movement.rope(4, places=(0.0, 0.25, 0.5, 0.75)).trace))
    assert [row.label for row in more][-1] == ""


def test_what_cannot_be_learned_is_said() -> None:
    found = study(movement.mills(1).trace)
    with refused("got both"):
        learn_drill(found, title="t", counts=2, tempo_bpm=100)
    with refused("beats a minute"):
        learn_drill(found, title="t", counts=12)
    with refused("3 whole"):
        learn_drill(study(movement.mills(1, n=2, jitter=0).trace), title="t")


def made(periods=(2.0, 2.0, 2.0, 2.0), places=(), lags=(), **rest):
    """A study of movers of which only what a drill is made of is there."""
    periods = np.array(periods)
    main = SimpleNamespace(name="first", cycles=SimpleNamespace(periods=periods))
    lags = [
        SimpleNamespace(of=name, lag=SimpleNamespace(degrees=degrees), level=level)
        for name, degrees, level in ((*each, "cycle")[:3] for each in lags)
    ]
    values = {"main": main, "bodies": (main,) * (1 + len(lags)), "places": places, "lags": lags}
    return SimpleNamespace(**{**values, "uneven": (), "left_out": (), **rest})


def test_whole_file_of_a_take_with_carried_circles():  # exact
    broken = ("first", SimpleNamespace(first=6, kind="long", start=3.25, end=4.5))
    found = made(
        places=(CirclePhase(0.0, 0.01, 4), CirclePhase(0.5, 0.02, 4)),
        uneven=(broken,),
        left_out=(Reason(Why.NO_FLIGHTS, ("none",)),),
    )
    learned = learn_drill(found, title='a "b"', apparatus="rope", counts=4, hand="left")
    assert (learned.tempo_bpm, learned.counts) == (120, 4)
    assert learned.left_out[0] == Reason(Why.UNEVEN_CYCLE, (7, "first", "long", 3.25, 4.5))
    assert write_drill(learned).split("\n") == [
        "# Made of a take: the places are means over its cycles, the allowance is twice their spread.",
        "# left out: cycle 7 of first (long, 3.25 to 4.50 s)",
        "# left out: flights: none",
        'title = "a \\"b\\""',
        'apparatus = "rope"',
        'trains = "the places at which the circles of this take fell"',
        'notes = "4 cycles of 2.000 s"',
        "",
        "[practice]",
        "tempo = 120",
        "slowest = 72",
        "fastest = 156",
        "allowance_pct = 8.0",
        "",
        "[cycle]",
        "counts = 4",
        "",
        *("[[phase]]", 'name = "low"', 'start = "1"', 'end = "2"', ""),
        *("[[phase]]", 'name = "rise"', 'start = "2"', 'end = "3"', ""),
        *("[[phase]]", 'name = "high"', 'start = "3"', 'end = "4"', ""),
        *("[[phase]]", 'name = "fall"', 'start = "4"', 'end = "5"', ""),
        *("[[hand]]", 'name = "left"', ""),
        *("[[hand.moment]]", 'at = "1&"', 'label = "low 1"', ""),
        *("[[hand.moment]]", 'at = "3&"', 'label = "high 2"', ""),
    ]


def test_two_movers_where_nothing_carries_the_circles():  # exact
    found = made(periods=(0.5, 0.5, 0.5), lags=[("second", -90.0), ("third", math.nan)])
    text = write_drill(learn_drill(found, title="t", counts=2))
    # a tempo of 240 keeps its bounds inside what a drill may have
    assert "tempo = 240\nslowest = 144\nfastest = 312\nallowance_pct = 2.5\n" in text
    hands = text[text.index("[[hand]]") :].split("[[hand]]\n")[1:]
    circle = '\n[[hand.moment]]\nat = "1"\nlabel = "circle"\n'
    assert hands == [
        f'name = "first"\n{circle}\n',
        f'name = "second"\nlag = 1.5\n{circle}\n',
        f'name = "third"\n{circle}',
    ]
    assert "[[phase]]" not in text


@pytest.mark.parametrize(
    ("period", "given", "counts", "tempo"),
    [
        (2.4, {}, 4, 100),  # whole counts, nearest to 100 a minute
        (0.6, {}, 1, 100),
        (0.46, {}, 1, 60 / 0.46),
        (0.45, {}, 1, 60 / 0.45),  # three quarters of a count is one
        (0.44, {}, 0.5, 30 / 0.44),
        (1.0, {"tempo_bpm": 180}, 3, 180),
        (3.0, {"counts": 1}, 1, 20),
        (0.6, {"counts": 4}, 4, 400),
    ],
)
def test_counts_and_tempo_of_a_cycle(period, given, counts, tempo):
    learned = learn_drill(made(periods=(period,) * 3), title="t", **given)
    assert (learned.counts, learned.tempo_bpm) == (counts, pytest.approx(tempo))
    slowest, fastest = (
        float(write_drill(learned).split(f"{name} = ")[1].split()[0]) for name in ("slowest", "fastest")
    )
    assert slowest == max(20, round(0.6 * tempo)) and fastest == min(400, round(1.3 * tempo))


@pytest.mark.parametrize(("sds", "allowance"), [((0.001, 0.002), 2.5), ((0.03, 0.1), 40), ((0.2, 0.01), 50)])
def test_allowance_is_twice_the_widest_spread_over_the_usual_distance(sds, allowance):
    places = tuple(CirclePhase(k / 2, sd, 9) for k, sd in enumerate(sds))
    text = write_drill(learn_drill(made(places=places), title="t", counts=4))
    assert f"allowance_pct = {allowance:.1f}" in text


def test_what_does_not_repeat_evenly_has_the_spread_of_its_periods():  # exact: SD 0.1 of a median of 2
    text = write_drill(learn_drill(made(periods=(1.9, 2.0, 2.1)), title="t", counts=4))
    assert "allowance_pct = 10.0" in text


def test_without_carried_circles_both_begin_at_their_first():
    drill = read_drill(find_drill("rope_figure_eight"))
    rows = set_beside(drill.pattern, made(periods=(1.9, 2.0, 2.1)))
    assert (rows[0].taught, rows[0].off) == (0, 0)
    assert [row.done for row in rows[1:]] == [None, None] and all(math.isnan(row.off) for row in rows[1:])
    assert (rows[0].done.at, rows[0].done.sd, rows[0].done.n) == (0, pytest.approx(0.05), 3)
    # two have one, and one alone has none (exact)
    assert set_beside(drill.pattern, made(periods=(1.0, 3.0)))[0].done.sd == pytest.approx(math.sqrt(2) / 2)
    assert set_beside(drill.pattern, made(periods=(2.0,)))[0].done.sd == 0


def test_where_a_hand_is_taught_is_told_from_the_low_phase_or_from_the_first_count():
    pattern = read_drill(find_drill("rope_figure_eight")).pattern
    low = next(phase for phase in pattern.phases if phase.name == "low")
    at = np.array([moment.at for moment in pattern.hands[0].moments])
    middle = (low.start + low.end) / 2
    assert place_taught(pattern) == pytest.approx((at - middle) / pattern.cycle_counts % 1)
    assert place_taught(replace(pattern, phases=())) == pytest.approx(at / pattern.cycle_counts % 1)


@pytest.mark.parametrize("counts", [0.99, 20.1])
def test_tempo_that_no_drill_may_have_is_refused(counts):
    with refused("beats a minute"):
        learn_drill(made(periods=(3.0,) * 3), title="t", counts=counts)
    assert 'name = "right"' in write_drill(learn_drill(made(periods=(3.0,) * 3), title="t", counts=20))


@pytest.mark.parametrize(
    ("degrees", "level", "places", "lag"),
    [
        (-36.0, "circle", (0.0, 0.5), -0.2),  # a tenth of one of two circles, of 4 counts
        (90.0, "circle", (0.0, 0.5), 0.5),
        (-36.0, "cycle", (0.0, 0.5), -0.4),
        (-36.0, "cycle", (), 3.6),  # it would begin before its cycle
        (-91.0, "cycle", (0.0, 0.5), 4 * 269 / 360),
    ],
)
def test_a_lag_of_small_circles_is_a_part_of_them_and_a_hand_may_lead(
    degrees: float, level: str, places: tuple[float, ...], lag: float
) -> None:
    found = made(places=[CirclePhase(at, 0.01, 4) for at in places], lags=[("second", degrees, level)])
    assert learn_drill(found, title="t", counts=4).hands[1].lag == pytest.approx(lag)

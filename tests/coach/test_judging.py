"""Tables, takes, placed traces and groups to scorecards: the same numbers by whichever way they come."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.errors import CoachError
from tempo_coach.music.counts.count_map import Position
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.plan.plan import Plan
from tempo_coach.pattern.routine.routine import MusicFile, Routine, RoutineMoment
from tempo_coach.pattern.routine.routine_writer import write_routine
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.words.errors import hint_of, message_of
from tempo_coach.report.words.reasons import say_reason
from tempo_coach.score.group.card import GroupCard
from tempo_coach.score.scorecard import Scorecard
from tests.generators import movement
from tests.refused import into, refused

PLAN = coach.lay(coach.Request("clubs_mills", tempo_bpm=200, cycles=12))
FIRST = float(PLAN.moments.time[0])
#: 20 ms late on the average, by turns 10 ms more and less.
TIMES = PLAN.moments.time + 0.02 + 0.01 * (-1.0) ** np.arange(len(PLAN.moments))


def write_table(path: Path, times: np.ndarray = TIMES) -> Path:
    rows = "".join(f"{time:.6f},{hand}\n" for time, hand in zip(times, PLAN.moments.hand, strict=True))
    path.write_text("time,hand\n" + rows, encoding="utf-8")
    return path


def values(card: Scorecard) -> dict[str, float]:
    return {name: measure.value for name, measure in card.measures.items()}


def assert_alike(one: dict[str, float], other: dict[str, float], *, within: float = 1e-3) -> None:
    assert one.keys() == other.keys()
    for name, value in one.items():
        assert other[name] == pytest.approx(value, abs=within, nan_ok=True), name


def test_a_table_and_a_take_of_the_same_onsets_have_one_scorecard(tmp_path: Path) -> None:
    by_table = coach.judge_file(write_table(tmp_path / "meine Töne 音.csv"), PLAN)
    by_take = coach.judge_take(Take(PLAN, Onsets(TIMES, PLAN.moments.hand)))
    assert_alike(values(by_table), values(by_take))
    assert by_table.value("bias_ms") == pytest.approx(20, abs=0.01)
    assert len(by_table.missed) == len(by_take.missed) == 0


def test_a_trace_of_the_same_moments_has_it_too(tmp_path: Path) -> None:
    """The circles of a movement without noise, once as a trace beside a clap, once as a table of their low points."""
    made = movement.mills(3, n=12, noise=0.0, jitter=0.03)
    placed = coach.place_trace(made.trace, PLAN, clap=(0.3, FIRST))
    lows = np.column_stack([made.circles["first"], made.circles["second"]])[: PLAN.cycles].ravel()
    by_table = coach.judge_file(write_table(tmp_path / "onsets.csv", lows - 0.3 + FIRST), PLAN)
    by_trace = coach.judge_placed(placed)
    # the low points are found to a quarter of a millisecond
    for name in ("bias_ms", "spread_ms"):
        assert by_trace.value(name) == pytest.approx(by_table.value(name), abs=0.25)
    assert by_trace.value("period_ratio_mean") == pytest.approx(by_table.value("period_ratio_mean"), abs=1e-4)


def test_who_observed_it_is_kept(tmp_path: Path) -> None:
    table = write_table(tmp_path / "onsets.csv")
    assert coach.judge_file(table, PLAN).observed_by == "file"
    assert coach.judge_file(table, PLAN, observed_by="tap").observed_by == "tap"


def test_rows_out_of_order_are_put_in_order_and_that_is_said(tmp_path: Path) -> None:
    said: list[str] = []
    order = np.argsort(-TIMES)
    path = tmp_path / "onsets.csv"
    path.write_text("time,hand\n" + "".join(f"{TIMES[k]:.6f},{PLAN.moments.hand[k]}\n" for k in order))
    card = coach.judge_file(path, PLAN, warn=into(said))
    assert card.value("bias_ms") == pytest.approx(20, abs=0.01)
    assert said == [f"{path}: the rows were not in order of time and have been put in order."]


SECONDS = "write each time in seconds, such as 12.34"
HEADER = "expected a table with a header and the columns time (s on the take clock) and hand"


@pytest.mark.parametrize(
    ("text", "line", "message", "hint"),
    [
        ("", "", "the file is empty", HEADER),
        ("hand\nright\n", ":1", "expected a column time, found hand", HEADER),
        ("time\n1\n", ":1", "expected a column hand, found time", HEADER),
        ("time,hand\n1,right\nx,right\n", ":3", "expected a time in seconds, found 'x'", SECONDS),
        ("time,hand\n1,rihgt\n", ":2", "expected a hand (right, left), found 'rihgt'", "did you mean right?"),
    ],
)
def test_a_table_that_cannot_be_read_is_named_with_its_line(
    tmp_path: Path, text: str, line: str, message: str, hint: str | None
) -> None:
    path = tmp_path / "my onsets.csv"
    path.write_text(text)
    with pytest.raises(CoachError) as caught:
        coach.judge_file(path, PLAN)
    assert (message_of(caught.value), caught.value.where, hint_of(caught.value)) == (message, f"{path}{line}", hint)


def test_a_place_that_is_known_has_a_bias_and_a_fitted_one_has_none() -> None:
    take = Take(PLAN, Onsets(TIMES, PLAN.moments.hand))
    known = coach.judge_placed(coach.Placed(take, True, None))
    assert known.value("bias_ms") == pytest.approx(20)
    assert "placing" not in known.notes
    fitted = coach.judge_placed(coach.Placed(take, False, 0.834))
    assert np.isnan(fitted.value("bias_ms"))
    assert fitted.value("spread_ms") == pytest.approx(known.value("spread_ms"))
    assert fitted.notes["placing"] == fitted.measures["bias_ms"].reason
    said = "the trace was put where it fits the plan best (confidence 0.83), so how early or late all of it was"
    assert say_reason(fitted.notes["placing"]) == f"{said} cannot be told"
    turned = coach.judge_placed(coach.Placed(take, False, None))
    assert np.isnan(turned.value("bias_ms"))
    assert turned.notes["placing"] == Reason(Why.ANY_CIRCLE)


def write_members(folder: Path) -> list[str]:
    """Ada on the moments, Bea 30 ms later: tables of one hand's onsets."""
    moments = ALONE.moments.time
    for name, late in (("Ada é", 0.0), ("Bea", 0.03)):
        (folder / f"{name}.csv").write_text("time,hand\n" + "".join(f"{time + late:.6f},right\n" for time in moments))
    return [str(folder / "Ada é.csv"), str(folder / "Bea.csv")]


ALONE = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=12, hand="right"))


def offsets(card: GroupCard) -> dict[str, float]:
    """Milliseconds by which each member is late on the average."""
    return {each.member: 1000 * each.bias for each in card.members}


def test_a_group_is_judged_from_a_file_each_or_from_one_of_all(tmp_path: Path) -> None:
    asked: list[float] = []

    def lay_plan(end: float) -> Plan:
        asked.append(end)
        return ALONE

    card = coach.judge_members(write_members(tmp_path), lay_plan=lay_plan).card
    assert offsets(card) == pytest.approx({"Ada é": 0, "Bea": 30}, abs=0.01)
    assert asked == [pytest.approx(float(ALONE.moments.time[-1]) + 0.03, abs=1e-5)]
    rows = [
        f"{time + late:.6f},{name}" for time in ALONE.moments.time for name, late in (("Ada é", 0.0), ("Bea", 0.03))
    ]
    (tmp_path / "all.csv").write_text("\n".join(["time,member", *rows]) + "\n", encoding="utf-8")
    together = coach.judge_members([str(tmp_path / "all.csv")], lay_plan=lay_plan).card
    assert offsets(together) == pytest.approx(offsets(card))


def test_names_clocks_canons_and_distances_are_those_that_are_given(tmp_path: Path) -> None:
    ada, bea = write_members(tmp_path)

    def lay_plan(_: float) -> Plan:
        return ALONE

    named = coach.judge_members([f"Cyl={ada}", f"Dor={bea}"], lay_plan=lay_plan).card
    assert offsets(named) == pytest.approx({"Cyl": 0, "Dor": 30}, abs=0.01)
    clocks = coach.judge_members([ada, bea], lay_plan=lay_plan, later={"Bea": -0.03}).card
    assert offsets(clocks) == pytest.approx({"Ada é": 0, "Bea": 0}, abs=0.01)
    # sound takes 2.92 ms for each metre (343 m/s at 20 °C)
    far = coach.judge_members([ada, bea], lay_plan=lay_plan, metres={"Bea": 10.0}).card
    assert offsets(far)["Bea"] - offsets(named)["Dor"] == pytest.approx(-10 / 343 * 1000, abs=0.5)
    # a twentieth of a count of 0.6 s later is asked for, which is all that she is late
    canon = coach.judge_members([ada, bea], lay_plan=lay_plan, shifts={"Bea": 0.05}).card
    assert offsets(canon)["Bea"] == pytest.approx(0, abs=0.01)


def test_one_recording_of_all_is_judged_without_members(tmp_path: Path) -> None:
    times = np.sort(np.concatenate([ALONE.moments.time, ALONE.moments.time + 0.03]))
    (tmp_path / "together.csv").write_text("time\n" + "".join(f"{time:.6f}\n" for time in times))
    card = coach.judge_members([str(tmp_path / "together.csv")], lay_plan=lambda _: ALONE).card
    assert card.width == pytest.approx(0.03, abs=1e-5)
    assert card.members == () and "members" in card.reasons


def test_what_is_wrong_with_a_group_is_said(tmp_path: Path) -> None:
    ada, bea = write_members(tmp_path)
    with pytest.raises(CoachError) as caught:
        coach.judge_members([ada, bea])
    assert (message_of(caught.value), caught.value.where) == ("nothing says what was asked for", "group")
    assert hint_of(caught.value) == "give --tempo BPM, --music FILE, --plan PLAN.json or --drill DRILL"
    with pytest.raises(CoachError) as caught:
        coach.judge_members([f"Ada={ada}", f"Ada={bea}"], lay_plan=lambda _: ALONE)
    assert message_of(caught.value) == "expected each member once, found 'Ada' again"
    assert (caught.value.where, hint_of(caught.value)) == (f"Ada={bea}", "this one is left out: say NAME=FILE")
    gone = str(tmp_path / "gone.csv")
    with pytest.raises(CoachError) as caught:
        coach.judge_members([ada, gone], lay_plan=lambda _: ALONE)
    assert (message_of(caught.value), caught.value.where) == (
        "expected a take or a table, but there is no such file",
        gone,
    )
    with pytest.raises(CoachError) as caught:
        coach.judge_members([ada, bea], lay_plan=lambda _: ALONE, later={"Eva": 1.0})
    assert (message_of(caught.value), caught.value.where) == ("expected a member (Ada é, Bea), found Eva", "--clock")
    with refused("Eva"):
        coach.judge_members([ada, bea], lay_plan=lambda _: ALONE, partners={"Bea": "Eva"})


def test_the_exchanges_of_a_routine_are_looked_at(tmp_path: Path) -> None:
    members = write_members(tmp_path)
    thrown = RoutineMoment("exchange", Position(1, 2.0), "Ada é:Bea, Bea:Ada é")
    caught_at = RoutineMoment("catch", Position(1, 4.0))
    routine = Routine("two clubs", MusicFile("gone.wav"), kind="group", moments=(thrown, caught_at))
    path = tmp_path / "two clubs.toml"
    write_routine(path, routine)
    card = coach.judge_members(members, lay_plan=lambda _: ALONE, routine=path).card
    assert len(card.exchanges) == 1
    assert not coach.judge_members(members, lay_plan=lambda _: ALONE).card.exchanges
    write_routine(path, replace(routine, moments=(thrown,)))
    with refused("expected a catch behind the exchange"):
        coach.judge_members(members, lay_plan=lambda _: ALONE, routine=path)

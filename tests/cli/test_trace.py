"""The commands trace, learn and compare: what they print and what they refuse."""

import json
from pathlib import Path

import numpy as np
import pytest

from tempo_coach.cli import build_parser, main
from tests.generators import movement
from tests.refused import refused


def run(*words: str) -> int:
    args = build_parser().parse_args(words)
    code: int = args.run(args)
    return code


@pytest.fixture
def mills(tmp_path: Path) -> str:
    made = movement.mills(2, fault="long").trace
    path = tmp_path / "mills.csv"
    names = ",".join(["time", *(channel.name for channel in made.channels)])
    np.savetxt(path, np.column_stack([made.time, made.values]), delimiter=",", header=names, comments="", fmt="%.6f")
    return str(path)


def test_trace_gives_everything_as_json(mills: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("trace", mills, "--asked", "180", "--json") == 0
    found = json.loads(capsys.readouterr().out)
    assert {"understood", "rate_hz", "period_s", "cycles", "circles", "lags", "flights", "flags"} <= set(found)
    assert found["rate_hz"] == 100
    assert found["period_s"] == pytest.approx(0.6, rel=0.02)
    assert {circle["part"] for circle in found["circles"]} == {"first", "second"}
    (lag,) = found["lags"]
    assert lag["of"] == "second"
    assert lag["asked_deg"] == 180
    assert lag["deg"] == pytest.approx(180, abs=3)
    assert [flag["kind"] for flag in found["flags"] if flag["part"] == "first"] == ["long"]


def test_trace_says_it_in_sentences(mills: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("trace", mills, "--columns", "first_x,first_y", "--against", "second_x,second_y") == 0
    said = capsys.readouterr().out
    assert "read: first_x: position x of first in m" in said
    assert "longer than its neighbours" in said
    assert "trails" in said


def test_a_stretch_and_a_point_can_be_chosen(mills: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("trace", mills, "--point", "second", "--from", "1", "--to", "5", "--period", "0.6", "--json") == 0
    found = json.loads(capsys.readouterr().out)
    assert min(found["cycles"]) >= 1
    assert max(found["cycles"]) <= 5


def test_learn_and_compare_go_round(mills: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = str(tmp_path / "mine.toml")
    assert run("learn", mills, "--out", out, "--counts", "2", "--apparatus", "clubs") == 0
    with refused("exists"):
        run("learn", mills, "--out", out)
    capsys.readouterr()
    assert run("compare", out, mills, "--json") == 0
    found = json.loads(capsys.readouterr().out)
    assert found["cycle_counts"] == 2
    assert found["moments"][0]["off_counts"] == 0
    assert run("compare", "rope_figure_eight", mills) == 0
    assert "not done" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("trace", "{}", "--unit", "cm"), "WHAT=UNIT"),
        (("trace", "{}", "--period", "-1"), "a cycle of -1 s: expected"),
        (("trace", "{}", "--point", "frist"), "did you mean first"),
        (("trace", "{}", "--against", "third_x"), "did you mean|one of the columns"),
        (("trace", "none.csv"), "no such file"),
        (("learn", "{}", "--out", "x.toml", "--apparatus", "club"), "did you mean clubs"),
        (("learn", "{}", "--out", "x.toml", "--counts", "0"), "above 0"),
    ],
)
def test_wrong_wishes_are_told(mills: str, words: tuple[str, ...], said: str) -> None:
    with refused(said):
        run(*(word.format(mills) for word in words))


def test_a_toss_that_does_not_repeat_is_told_all_the_same(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = movement.toss(2, speed=7, angle_deg=80).trace
    path = str(tmp_path / "toss.csv")
    np.savetxt(path, np.column_stack([made.time, made.values]), delimiter=",", header="time,x,y", comments="")
    plan = str(tmp_path / "plan.json")
    assert main(["cue", "ball_toss_turn", "--tempo", "120", "--plan", plan]) == 0
    capsys.readouterr()
    assert run("trace", path, "--plan", plan) == 0
    said = capsys.readouterr().out
    assert "counts too short" in said
    assert "not found: cycles" in said
    assert run("trace", path, "--json") == 0
    found = json.loads(capsys.readouterr().out)
    assert found["period_s"] is None
    assert found["cycles"] == []
    assert len(found["flights"]) == 1
    with refused("only flies"):
        run("learn", path, "--out", str(tmp_path / "x.toml"))
    assert main(["cue", "rope_figure_eight", "--tempo", "90", "--plan", str(tmp_path / "rope.json")]) == 0
    with refused("nothing is thrown"):
        run("trace", path, "--plan", str(tmp_path / "rope.json"))


def test_pictures_are_drawn_and_written(mills: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "mills.svg"
    assert run("trace", mills, "--picture", "--svg", str(out)) == 0
    said = capsys.readouterr().out
    assert "one row a cycle" in said
    assert "its path" in said
    assert "phase over time" in out.read_text()
    with refused("exists"):
        run("trace", mills, "--svg", str(out))
    assert run("trace", mills, "--svg", str(out), "--force") == 0


def test_what_is_taught_is_told_beside_what_was_done(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = movement.rope(2).trace
    path, out = str(tmp_path / "rope.csv"), tmp_path / "rope.svg"
    np.savetxt(path, np.column_stack([made.time, made.values]), delimiter=",", header="time,x,y", comments="")
    assert run("trace", path, "--drill", "rope_figure_eight", "--picture", "--svg", str(out)) == 0
    said = capsys.readouterr().out
    assert "taught: one while low, two while high; this take: one at 0 % at the bottom, one at 4" in said
    assert "as it is almost up" in said
    assert said.split("taught  ")[1].splitlines()[0].count("□") == 3
    assert "places of the circles" in out.read_text()


def test_the_circles_of_a_drill_decide_what_a_cycle_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # a wrist on its cone, three circles of not quite one length to a figure eight of 1.5 s
    instants = np.concatenate([[0.0], np.cumsum(np.tile([0.44, 0.52, 0.54], 17))])
    made = movement.cone(4, movement.Phase(instants), movement.clock(24.6, 100))
    path = str(tmp_path / "wrist.csv")
    np.savetxt(path, np.column_stack([made.time, made.values]), delimiter=",", header="time,gx,gy,gz", comments="")
    assert run("trace", path, "--json") == 0
    alone = json.loads(capsys.readouterr().out)
    assert alone["period_confidence"] < 0.5
    assert run("trace", path, "--drill", "rope_figure_eight", "--json") == 0
    taught = json.loads(capsys.readouterr().out)
    assert taught["period_s"] == pytest.approx(1.5, rel=0.02)
    assert taught["period_confidence"] > 0.9
    assert len(taught["cycles"]) == pytest.approx(17, abs=1)
    assert len(taught["circles"]) == pytest.approx(3 * (len(taught["cycles"]) - 1), abs=1)


def test_a_learned_drill_is_cued_and_scores_the_take_it_came_from(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = movement.rope(2).trace
    path, drill, plan = (str(tmp_path / name) for name in ("rope.csv", "mine.toml", "plan.json"))
    np.savetxt(path, np.column_stack([made.time, made.values]), delimiter=",", header="time,x,y", comments="")
    assert run("learn", path, "--counts", "4", "--apparatus", "rope", "--hand", "right", "--out", drill) == 0
    wav = str(tmp_path / "cues.wav")
    assert main(["cue", drill, "--tempo", "120", "--cycles", "15", "--plan", plan, "--out", wav]) == 0
    capsys.readouterr()
    assert main(["score", path, "--plan", plan, "--json"]) == 0
    card = json.loads(capsys.readouterr().out)
    assert card["n"] >= 43  # of 45 circles
    # 2 % of jitter of the period and the scatter of the wrist's circles are all that is left
    assert card["spread_ms"] < 100


def test_a_drill_of_a_phones_table_is_cued_as_it_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    time = np.arange(0, 16, 0.01)
    angle = 2 * np.pi / 0.9 * time
    pulls = np.column_stack([3 * np.sin(angle), 1 + 2 * np.cos(angle), 9.81 + 4 * np.cos(angle)])
    path, drill = str(tmp_path / "phone.csv"), str(tmp_path / "mine.toml")
    header = (
        "Time (s),Acceleration x (m/s^2),Acceleration y (m/s^2),Acceleration z (m/s^2),Absolute acceleration (m/s^2)"
    )
    table = np.column_stack([time, pulls, np.linalg.norm(pulls, axis=1)])
    np.savetxt(path, table, delimiter=",", header=header, comments="", fmt="%.5f")
    with refused("which hand"):
        run("learn", path, "--counts", "2", "--out", drill)
    assert run("learn", path, "--counts", "2", "--hand", "left", "--out", drill) == 0
    assert main(["cue", drill, "--cycles", "4", "--out", str(tmp_path / "cues.wav")]) == 0
    assert 'name = "left"' in Path(drill).read_text()
    assert Path(drill).read_text().count("[[hand]]") == 1
    capsys.readouterr()


@pytest.mark.parametrize(
    ("unit", "said"),
    [
        ("positon=cm", "did you mean position=cm"),
        ("rotation=miles", "expected a unit of rotation .rad/s, deg/s., got miles"),
        ("rotation=cm", "expected a unit of rotation"),
        ("rotation=deg/s", "no columns that could be rotation"),
        ("=cm", "expected one of position, acceleration, rotation"),
    ],
)
def test_units_and_quantities_that_do_not_exist_are_refused(mills: str, unit: str, said: str) -> None:
    header, rows = Path(mills).read_text().split("\n", 1)
    Path(mills).write_text(header.replace("_x", "_x_m").replace("_y", "_y_m") + "\n" + rows)
    with refused(said):
        run("trace", mills, "--unit", unit)


def test_carried_mills_are_told_as_two_rotations(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = movement.carried(3, jitter=0.0, opposite=True)
    path = str(tmp_path / "carried.csv")
    table = np.column_stack([made.trace.time, made.trace.values])
    np.savetxt(path, table, delimiter=",", header="time,club_x,club_y", comments="")
    assert run("trace", path, "--json") == 0
    (rotation,) = json.loads(capsys.readouterr().out)["rotations"]
    # four small circles of 0.4 s in a big one of 1.6 s; against one another the arm feels one more (exact)
    assert rotation["small_hz"] == pytest.approx(2.5, rel=0.01)
    assert rotation["big_hz"] == pytest.approx(0.625, rel=0.01)
    assert rotation["circles_on_arm"] == pytest.approx(5, abs=0.05)
    assert rotation["small_radius"] == pytest.approx(0.3, rel=0.03)
    assert rotation["big_radii"][0] == pytest.approx(0.7, rel=0.03)
    assert rotation["small_sense"] == -rotation["big_sense"]
    # the first low point of the club comes at 0.37 s, a quarter of the small phase's turn being 0.1 s
    start = rotation["from_s"]
    assert ((start - 0.37) / 0.4 * 360 - rotation["small_phase_deg"] + 180) % 360 - 180 == pytest.approx(0, abs=8)
    assert run("trace", path) == 0
    assert "4.00 small circles (with the clock) a big cycle (against the clock) in the room" in capsys.readouterr().out


def test_learn_says_that_a_clock_jumped_as_trace_does(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    at = np.arange(0, 24, 0.02)
    angle = 2 * np.pi * at
    stamps = at + np.where(at > 4, 1.9e9, 0.0)  # it learned its date after four seconds
    table = np.column_stack([stamps, np.sin(angle), -np.cos(angle)])
    path = tmp_path / "right.csv"
    np.savetxt(path, table, delimiter=",", header="time_s,right_x_m,right_z_m", comments="", fmt="%.5f")
    assert run("learn", str(path), "--out", str(tmp_path / "a.toml"), "--counts", "2") == 0
    learned = capsys.readouterr().out
    assert run("trace", str(path)) == 0
    said = [line for line in capsys.readouterr().out.splitlines() if "the clock was set" in line]
    assert said and said[0] in learned.splitlines()

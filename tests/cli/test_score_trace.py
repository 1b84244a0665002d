"""Score takes a trace wherever it takes a table of onsets, and tells the boomerang's pulls apart."""

import json

import numpy as np
import pytest

from tempo_coach.cli import main
from tests.generators import movement


def run(capsys, *words):
    code = main([str(word) for word in words])
    caught = capsys.readouterr()
    return code, caught.out, caught.err


def write(path, trace, *, time_name="time", later=0.0):
    names = ",".join([time_name, *(channel.name for channel in trace.channels)])
    table = np.column_stack([trace.time + later, trace.values])
    np.savetxt(path, table, delimiter=",", header=names, comments="", fmt="%.6f")
    return path


@pytest.fixture
def plan(tmp_path, capsys):
    path = tmp_path / "plan.json"
    assert run(capsys, "cue", "clubs_mills", "--tempo", 200, "--cycles", 20, "--plan", path)[0] == 0
    return path


@pytest.fixture
def mills(tmp_path):
    return write(tmp_path / "mills.csv", movement.mills(2, fault="long").trace)


def test_a_trace_is_scored_like_onsets(plan, mills, capsys):
    first = json.loads(plan.read_text())["moments"][0]["time"]
    code, out, err = run(capsys, "score", mills, "--plan", plan, "--clap", 0.3, first, "--json")
    assert code == 0
    assert err == ""
    card = json.loads(out)
    assert card["observed_by"] == "sensor"
    assert card["missed"] == card["extra"] == 0
    assert card["noise_floor_ms"] == pytest.approx(0.02 / (2 * np.pi / 0.6) * np.sqrt(2 / 3) * 1000, rel=0.2)
    assert card["lags"][0]["deg"] == pytest.approx(180, abs=3)
    # cycle 10 is long in both hands at once: the left one comes in its place there, and everything from 11 on is late
    told = [found for found in card["findings"] if found["confidence"] >= 0.5]
    assert [(found["kind"], found["cycle"]) for found in told] == [("hesitated", 11)]
    assert [cycle["flags"] for cycle in card["cycles"] if cycle["flags"]] == [["hesitated: circle"]]
    assert [cycle["hand"] for cycle in card["cycles"] if "hesitated: circle" in cycle["flags"]] == ["right"]


def test_without_a_clap_it_is_fitted_and_says_how_sure_that_is(plan, mills, capsys):
    code, out, err = run(capsys, "score", mills, "--plan", plan)
    assert code == 0
    assert "fits nearly as well" in err
    assert "how\n  early or late" in out or "how early or late" in out
    assert "against the plan" not in out
    assert max(len(line) for line in out.splitlines()) <= 80


def test_columns_and_points_can_be_chosen(plan, mills, capsys):
    options = ("--columns", "second_x,second_y", "--against", "first_x,first_y", "--json")
    code, out, _ = run(capsys, "score", mills, "--plan", plan, *options)
    assert code == 0
    assert json.loads(out)["lags"][0]["deg"] == pytest.approx(180, abs=3)
    code, _, err = run(capsys, "score", mills, "--plan", plan, "--point", "frist")
    assert code == 1
    assert "did you mean first" in err


def test_stamps_of_the_clock_place_it(plan, tmp_path, capsys):
    # 2030-03-17T17:46:40 UTC is 1 900 000 000 s after 1970 began
    path = write(tmp_path / "stamped.csv", movement.mills(2, jitter=0.0).trace, later=1.9e9)
    first = json.loads(plan.read_text())["moments"][0]["time"]
    started = f"2030-03-17T17:46:{40 + 0.3 - first:06.3f}"
    code, out, _ = run(capsys, "score", path, "--plan", plan, "--started", started, "--json")
    assert code == 0
    assert json.loads(out)["bias_ms"] == pytest.approx(0, abs=2)
    assert run(capsys, "score", path, "--plan", plan, "--started", "soon")[0] == 1


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("time,hand\n", None),
        ("", "empty"),
        ("time,feet\n1,left\n", "a column hand"),
        ("hand,x\nleft,1\n", "column time"),
    ],
)
def test_tables_of_onsets_are_read_as_before(plan, tmp_path, text, said, capsys):
    path = tmp_path / "onsets.csv"
    path.write_text(text)
    code, _, err = run(capsys, "score", path, "--plan", plan)
    if said is None:
        assert code == 0
    else:
        assert code == 1
        assert said in err


def test_the_boomerangs_pulls_are_told(tmp_path, capsys):
    plan = tmp_path / "boomerang.json"
    assert run(capsys, "cue", "ribbon_boomerang", "--tempo", 100, "--cycles", 8, "--plan", plan)[0] == 0
    rows = []
    for each in json.loads(plan.read_text())["moments"]:
        early = 0.45 if each["cycle"] == 3 and each["label"] == "pull" else 0.0
        rows.append(f"{each['time'] - early:.6f},{each['hand']}")
    onsets = tmp_path / "onsets.csv"
    onsets.write_text("\n".join(["time,hand", *sorted(rows, key=lambda row: float(row.split(",")[0]))]) + "\n")
    code, out, _ = run(capsys, "score", onsets, "--plan", plan)
    assert code == 0
    assert "The pull came while the stick was on the floor in 7 of 8." in out
    assert "cycle 4: the pull came before the stick was down: wait for the floor, then pull" in out
    code, out, _ = run(capsys, "score", onsets, "--plan", plan, "--json")
    assert [each["pull"] for each in json.loads(out)["boomerangs"]][3] == "too early"


def test_another_drill_has_no_boomerangs(plan, mills, capsys):
    code, out, _ = run(capsys, "score", mills, "--plan", plan, "--json")
    assert code == 0
    assert "boomerangs" not in json.loads(out)


def test_a_ball_is_scored_by_its_flights(tmp_path, capsys):
    plan = tmp_path / "ball.json"
    assert run(capsys, "cue", "ball_toss_turn", "--tempo", 150, "--cycles", 4, "--plan", plan)[0] == 0
    moments = json.loads(plan.read_text())["moments"]
    asked = np.array([each["time"] for each in moments if each["label"] == "let go"])
    # let go on the count with 7 m/s at 80°: 1.41 s in the air, and 1.2 are asked
    made = movement.tosses(3, releases=asked - 1.9, speed=7)
    path = write(tmp_path / "ball.csv", made.trace)
    code, out, err = run(capsys, "score", path, "--plan", plan, "--clap", 0, 1.9, "--json")
    assert code == 0
    assert "half round" not in out
    assert "turn of right shows in no trace" in err
    throws = json.loads(out)["throws"]
    assert [each["length"] for each in throws] == ["long"] * 4
    for each in throws:
        assert each["release_ms"] == pytest.approx(0, abs=10)
        assert each["counts"] == pytest.approx((made.catch - made.release) / 0.4, abs=0.05)
    code, out, _ = run(capsys, "score", path, "--plan", plan, "--clap", 0, 1.9)
    assert code == 0
    assert "0 of 4 flights were in time" in out


def test_the_plan_may_come_from_a_take(plan, mills, tmp_path, capsys):
    take = tmp_path / "dry.take.jsonl"
    head = {"take": 1, "begun": "2031-05-04T18:15:02", "observed_by": "tap", "plan": json.loads(plan.read_text())}
    take.write_text(json.dumps(head) + "\n")
    first = head["plan"]["moments"][0]["time"]
    code, out, _ = run(capsys, "score", mills, "--take", take, "--clap", 0.3, first, "--json")
    assert code == 0
    card = json.loads(out)
    assert card["observed_by"] == "sensor"
    assert card["missed"] == 0

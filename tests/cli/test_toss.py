"""The command over the planner of tosses: what it prints, in words and for programs."""

import json

import numpy as np
import pytest

from tempo_coach.cli import build_parser
from tests.generators import movement
from tests.refused import refused

ASKED = ["--counts", "4", "--tempo", "120", "--release", "1.8", "--catch", "1.2", "--distance", "3"]


@pytest.fixture
def run(capsys):
    def run_with(*options):
        args = build_parser(["toss"]).parse_args(["toss", *map(str, options)])
        assert args.run(args) == 0
        return capsys.readouterr().out

    return run_with


def test_the_values_are_those_of_the_parabola(run):
    # exact: speed, angle, top and vertical speed of a flight of 2 s over 3 m from 1.8 m to 1.2 m
    found = json.loads(run(*ASKED, "--json"))
    assert found["flight_s"] == 2
    assert found["speed_mps"] == pytest.approx(9.624261, abs=5.1e-7)
    assert found["angle_deg"] == pytest.approx(81.033548, abs=5.1e-7)
    assert found["apex_m"] == pytest.approx(6.407914, abs=5.1e-7)
    assert found["rise_m"] == pytest.approx(4.607914, abs=5.1e-7)
    assert found["apex_s"] == pytest.approx(0.969409, abs=5.1e-7)
    assert found["catch_vertical_mps"] == pytest.approx(-10.10665, abs=5.1e-7)
    assert found["with_drag"] is None


def test_an_apparatus_adds_the_air(run):
    found = json.loads(run(*ASKED, "--apparatus", "ball", "--json"))["with_drag"]
    low, high = found["speed_range_mps"]
    assert 9.62 < low < found["speed_mps"] < high < 10.5


def test_in_words_it_has_the_height_the_picture_what_goes_wrong_and_the_care(run):
    told = run(*ASKED, "--apparatus", "clubs", "--turning", 400)
    assert "It rises 4.6 m above the release, to 6.4 m above the floor" in told
    assert "Teach the height, not the speed" in " ".join(told.split())
    assert "degree steeper   0.33 m nearer" in told
    assert "two turns" in told
    assert told.count("clear space") == 1
    assert max(map(len, told.splitlines())) <= 90


def test_height_and_tempo_give_the_counts(run):
    assert json.loads(run("--rise", 4.903325, "--tempo", 120, "--release", 1.5, "--catch", 1.5, "--json"))[
        "counts"
    ] == pytest.approx(4, abs=1e-6)


def test_without_a_tempo_nothing_is_said_of_counts(run):
    told = run("--speed", 8)
    assert told.startswith("1.70 s in the air.")
    assert "Assumed: release 1.8 m, catch 1.2 m, distance 0 m" in told
    assert "one turn" not in told


def test_a_table_from_two_to_eight(run):
    lines = run("--table", "--tempo", 120).splitlines()
    assert [line.split()[0] for line in lines[1:8]] == ["2", "3", "4", "5", "6", "7", "8"]
    assert "higher than any hall" in lines[7]
    found = json.loads(run("--table", "--tempo", 96, "--apparatus", "hoop-face-on", "--json"))
    assert [each["counts"] for each in found["tosses"]] == [2, 3, 4, 5, 6]
    assert found["tosses"][-1]["with_drag"] is None
    assert found["beyond"] == [7, 8]
    assert "faster than anybody throws" in run("--table", "--tempo", 96, "--apparatus", "hoop-face-on")


def test_the_picture_is_written_and_not_overwritten(run, tmp_path):
    file = tmp_path / "flight.svg"
    run(*ASKED, "--svg", file, "--on", 7)
    assert file.read_text().startswith("<svg")
    assert ">7</text>" in file.read_text()
    with refused("not overwritten"):
        run(*ASKED, "--svg", file)
    run(*ASKED, "--svg", file, "--force")


def test_the_tempo_may_come_from_a_place_in_music(run, music):
    found = json.loads(run("--music", music, "--from-eight", 2, "--on", 5, "--counts", 3, "--json"))
    assert found["counts"] == 3
    assert found["flight_s"] == pytest.approx(180 / found["tempo_bpm"])
    assert 60 < found["tempo_bpm"] < 200
    with refused("the music has no 3 counts from eight 900"):
        run("--music", music, "--from-eight", 900, "--counts", 3)
    with refused("expected --counts"):
        run("--music", music)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--flight", 10], "--flight: .*longest is 3.88 s"),
        (["--flight", 2, "--distance", 200], "--distance: .*nearest is 18.4"),
        (["--flight", 2, "--release", 0], "--release: expected a release of more than 0"),
        (["--flight", 2, "--apparatus", "ribbon"], "--apparatus: no ballistic plan holds"),
        (["--flight", 3.8, "--apparatus", "hoop-face-on"], "faster than anybody throws"),
        (["--flight", 2, "--reach", 0], "--reach: expected a reach of more than 0 m"),
        (["--flight", 2, "--on", 9], "--on: expected a count from 1 to 8, got 9"),
        (["--table"], "expected --tempo with --table"),
        ([], "enough to tell how long the toss flies"),
    ],
)
def test_what_cannot_be_is_said_with_its_option(run, options, said):
    with refused(said):
        run(*options)


@pytest.fixture
def done(tmp_path):
    made = movement.toss(1, speed=7, angle_deg=69)
    path = tmp_path / "toss.csv"
    table = np.column_stack([made.trace.time, made.trace.values])
    np.savetxt(path, table, delimiter=",", header="time,ball_x,ball_y", comments="", fmt="%.6f")
    return path


def test_a_trace_is_told_beside_what_is_asked(run, done):
    said = run("--trace", done, "--speed", 7, "--angle", 80)
    assert "1. in the air from 1.30" in said
    assert "let go 11° too flat" in said
    assert "a coach" in said
    found = json.loads(run("--trace", done, "--counts", 3, "--tempo", 120, "--json"))
    (flight,) = found["flights"]
    assert flight["asked"]["flight_s"] == 1.5
    assert flight["off"]["flight_s"] == pytest.approx(flight["flight_s"] - 1.5, abs=2e-4)
    # an asked toss of which nothing is known is no toss: the flight alone is told
    assert json.loads(run("--trace", done, "--json"))["flights"][0]["asked"] is None


def test_a_trace_without_a_flight_is_refused(run, tmp_path):
    made = movement.rope(1)
    path = tmp_path / "rope.csv"
    table = np.column_stack([made.trace.time, made.trace.values])
    np.savetxt(path, table, delimiter=",", header="time,x,y", comments="", fmt="%.6f")
    with refused("no flight"):
        run("--trace", path)


def test_the_place_may_be_that_of_a_routine(run, music, tmp_path):
    routine = tmp_path / "ball.toml"
    routine.write_text(f'title = "Ball"\napparatus = "ball"\nkind = "alone"\n\n[music]\nfile = "{music}"\n')
    place = ("--from-eight", 2, "--on", 5, "--counts", 3, "--json")
    found = json.loads(run("--routine", routine, *place))
    assert found["flight_s"] == json.loads(run("--music", music, *place))["flight_s"]
    with refused("got both"):
        run("--routine", routine, "--music", music, *place)
    with refused("expected --counts"):
        run("--routine", routine)

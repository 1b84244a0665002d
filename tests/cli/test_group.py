"""``tempo-coach group``: from files to the card."""

import json

import numpy as np
import pytest

from tempo_coach.cli import main
from tempo_coach.coach import keep_answer

OFF = {"Ada": 0.0, "Bea": 0.03, "Cyl": 0.08, "Dör": -0.02, "Eva 🤸": 0.0}  # invented


def run(capsys, *words):
    code = main([str(word) for word in words])
    caught = capsys.readouterr()
    return code, caught.out, caught.err


def write(path, rows, header="time,member"):
    path.write_text(f"{header}\n" + "".join(",".join(str(cell) for cell in row) + "\n" for row in rows))
    return path


def clapping(path, beats):
    return write(path, [(f"{beat + off:.6f}", name) for beat in beats for name, off in OFF.items()])


@pytest.fixture
def table(tmp_path):
    return clapping(tmp_path / "clapping.csv", np.arange(32) * 0.5)


def test_one_table_on_a_tempo_has_the_names_of_the_contract(table, capsys):
    code, out, _ = run(capsys, "group", table, "--tempo", 120, "--json")
    assert code == 0
    card = json.loads(out)
    names = {"members", "group_r", "group_r_chance", "group_sd_ms", "group_range_ms", "apart", "pairs"}
    assert set(card) == names | {"left", "canon", "reasons", "detail"}
    assert [member["member"] for member in card["members"]] == sorted(OFF, key=list(OFF).index)
    mean = np.mean(list(OFF.values()))
    for member in card["members"]:
        off = OFF[member["member"]]
        assert member["bias_ms"] is None  # there is no music
        assert member["offset_ms"] == pytest.approx((off - mean) * 1000, abs=0.01)
        assert member["n"] == 32
    assert card["group_range_ms"] == pytest.approx(100, abs=0.01)
    assert card["group_sd_ms"] == pytest.approx(np.std(list(OFF.values()), ddof=1) * 1000, abs=0.01)


def test_the_page_fits_the_terminal(table, capsys):
    code, out, _ = run(capsys, "group", table, "--tempo", 120)
    assert code == 0
    assert "Cyl is 62 ms behind the group" in out
    assert max(map(len, out.splitlines())) <= 80


def test_where_she_stood_and_when_her_part_begins_are_taken_off(table, capsys):
    options = ("--place", "Cyl=27.586", "--canon", "Bea=2", "--clock", "Bea=1", "--json")
    code, out, _ = run(capsys, "group", table, "--tempo", 120, *options)
    assert code == 0
    by = {member["member"]: member for member in json.loads(out)["members"]}
    ada = by["Ada"]["offset_ms"]
    assert by["Cyl"]["offset_ms"] - ada == pytest.approx(0, abs=0.1)  # 27.586 m at 2.9 ms a metre
    assert by["Bea"]["offset_ms"] - ada == pytest.approx(30, abs=0.1)  # a second later on her clock is two counts


def test_a_table_with_music_lies_on_the_counts_of_the_music(tmp_path, music, invented, capsys):
    table = clapping(tmp_path / "clapping.csv", invented.beats[:64])
    code, out, _ = run(capsys, "group", table, "--music", music, "--json")
    assert code == 0
    by = {member["member"]: member["bias_ms"] for member in json.loads(out)["members"]}
    assert by["Cyl"] - by["Ada"] == pytest.approx(80, abs=2)
    assert by["Ada"] == pytest.approx(0, abs=15)  # what the beats are heard to


def test_takes_bring_their_plan_and_a_table_is_put_beside_them(tmp_path, capsys):
    plan = tmp_path / "plan.json"
    assert run(capsys, "cue", "clubs_mills", "--tempo", 100, "--cycles", 24, "--plan", plan)[0] == 0
    rows = [(each["time"], each["hand"]) for each in json.loads(plan.read_text())["moments"]]
    ada = write(tmp_path / "ada.csv", rows, "time,hand")
    bea = write(tmp_path / "bea.csv", [(time + 0.05, hand) for time, hand in rows], "time,hand")
    code, out, _ = run(capsys, "group", ada, f"Béa={bea}", "--plan", plan, "--json")
    assert code == 0
    card = json.loads(out)
    assert [member["member"] for member in card["members"]] == ["ada", "Béa"]
    assert card["members"][1]["bias_ms"] == pytest.approx(50, abs=1e-3)


def test_traces_of_one_clock_are_members_too(tmp_path, capsys):
    time = np.arange(0, 33, 0.01)
    paths = []
    for name, late in (("ada", 0.0), ("bea", 0.06)):
        turn = 2 * np.pi * (time - late + 0.5)  # lowest near its count: half a cycle off may be either way
        table = np.column_stack([time, np.sin(turn), -np.cos(turn)]).round(6).tolist()
        paths.append(write(tmp_path / f"{name}.csv", table, "time_s,x_m,y_m"))
    code, out, err = run(capsys, "group", *paths, "--tempo", 60, "--json")
    assert code == 0, err
    by = {member["member"]: member for member in json.loads(out)["members"]}
    assert by["bea"]["offset_ms"] - by["ada"]["offset_ms"] == pytest.approx(60, abs=2)


def test_nobody_is_early_or_late_where_her_sensor_shows_no_place_in_the_circle(tmp_path, capsys):
    rng = np.random.default_rng(3)
    time = np.arange(0, 33, 0.02)
    paths = []
    for name, late in (("ada", 0.0), ("bea", 0.2), ("cyl", 0.0)):
        turn = 2 * np.pi * (time - late)
        turning = np.column_stack([np.sin(turn), 6 + np.cos(turn), 0.4 * np.cos(2 * turn)])
        table = np.column_stack([time, turning + 0.03 * rng.standard_normal(turning.shape)]).round(6).tolist()
        paths.append(write(tmp_path / f"{name}.csv", table, "time_s,wx_rads,wy_rads,wz_rads"))
    code, out, err = run(capsys, "group", *paths, "--tempo", 60)
    assert code == 0, err
    assert out.startswith("Together") and "the sensor of bea does not show where in her circle" in " ".join(out.split())
    assert "What sensors do not show may make up to 5" in " ".join(out.split())
    code, out, _ = run(capsys, "group", *paths, "--tempo", 60, "--json")
    assert [each["observed_by"] for each in json.loads(out)["detail"]["observed"]] == ["sensor"] * 3


def test_one_recording_of_several_is_taken_and_told_apart_from_a_group(tmp_path, capsys):
    beats = np.arange(16) * 0.5
    mix = write(tmp_path / "mix.csv", [(f"{beat + off:.4f}",) for beat in beats for off in (0, 0.03)], "time")
    code, out, _ = run(capsys, "group", mix, "--tempo", 120, "--json")
    assert code == 0
    card = json.loads(out)
    assert card["members"] == []
    assert card["group_range_ms"] == pytest.approx(30)
    assert card["group_r_chance"] is None
    assert "cannot be told" in card["reasons"]["members"]


@pytest.mark.parametrize(
    ("text", "options", "said"),
    [
        ("", ("--tempo", 120), "the file is empty"),
        ("member\nAda\n", ("--tempo", 120), "expected a column time"),
        ("time,member\n1,Ada\nx,Bea\n", ("--tempo", 120), "clapping.csv:3: expected a time in seconds, found 'x'"),
        ("time,member\n1,Ada\n2,\n", ("--tempo", 120), "clapping.csv:3: expected a member"),
        ("time,member\n1," + "A" * 10_000 + "\n", ("--tempo", 120), "clapping.csv:2: expected a member"),
        ("time,member\n1,Ada\n", ("--tempo", 120), "expected 2 to 30 members, got 1"),
        ("time,member\n1,Ada\n30,Bea\n", ("--tempo", 120), "no two members"),
        ("time,member\n1,Ada\n1,Bea\n", (), "nothing says what was asked for"),
        ("time,member\n1,Ada\n1,Bea\n", ("--tempo", 1), "expected a tempo"),
        ("time,member\n1e300,Ada\n1,Bea\n", ("--tempo", 120), "clapping.csv:2: expected a time"),
        ("time,member\n" + "5,Ada\n5,Bea\n" * 20, ("--tempo", 120, "--canon", "Ada=2"), "no two members"),
        ("time,member\n1,Ada\n1,Bea\n", ("--tempo", 120, "--clock", "Zoe=1"), "found Zoe"),
        ("time,member\n1,Ada\n1,Bea\n", ("--tempo", 120, "--exchange", "Ada"), "expected MEMBER:MEMBER"),
        ("time,member\n1,Ada\n1,Bea\n", ("--drill", "clubs_mills"), "expected a hand"),
    ],
)
def test_what_cannot_be_a_group_is_said(tmp_path, capsys, text, options, said):
    path = tmp_path / "clapping.csv"
    path.write_text(text)
    code, out, err = run(capsys, "group", path, *options)
    assert (code, out) == (1, "")
    assert said in err


def test_members_of_different_plans_or_one_name_are_said(tmp_path, capsys):
    table = write(tmp_path / "a.csv", [(0.0,)], "time")
    code, _, err = run(capsys, "group", table, table, "--tempo", 120)
    assert code == 1
    assert "expected each member once" in err
    code, _, err = run(capsys, "group", tmp_path / "gone.csv", "--tempo", 120)
    assert code == 1
    assert "there is no such file" in err
    code, _, err = run(capsys, "group", "Ada=", table, "--tempo", 120)
    assert code == 1
    assert "found no file behind Ada=" in err


EXCHANGE = (
    'title = "Five balls, invented"\nkind = "group"\n[music]\nfile = "{music}"\n'
    '[[moment]]\nwhat = "exchange"\neight = 2\ncount = "1"\nhand = "Ada:Cyl"\n'
    '[[moment]]\nwhat = "catch"\neight = 2\ncount = "5"\n'
)


def test_the_exchanges_of_a_routine(table, tmp_path, capsys):
    routine = tmp_path / "five.toml"
    routine.write_text(EXCHANGE.format(music="five.wav"))
    code, out, _ = run(capsys, "group", table, "--tempo", 120, "--routine", routine, "--json")
    assert code == 0
    (exchange,) = json.loads(out)["detail"]["exchanges"]
    assert (exchange["eight"], exchange["count"]) == (2, 1)
    assert exchange["throws"] == [
        {"from": "Ada", "to": "Cyl", "flight_ms": pytest.approx(2080, abs=0.1), "asked_ms": pytest.approx(2000)}
    ]
    code, out, _ = run(capsys, "group", table, "--tempo", 120, "--routine", routine)
    assert "Ada to Cyl: 2.08 s from hand to hand, 80 ms longer than asked" in out


def test_a_routine_brings_its_music(tmp_path, music, invented, capsys):
    routine = tmp_path / "five.toml"
    routine.write_text(
        EXCHANGE.format(music=music.as_posix()) + f'[[correction]]\ndo = "one"\nat = {invented.beats[3]:.3f}\n'
    )
    table = clapping(tmp_path / "on_music.csv", invented.beats)
    code, out, err = run(capsys, "group", table, "--routine", routine, "--json")
    assert code == 0, err
    card = json.loads(out)
    assert [throw["to"] for throw in card["detail"]["exchanges"][0]["throws"]] == ["Cyl"]
    assert card["members"][2]["offset_ms"] == pytest.approx(1000 * (0.08 - np.mean(list(OFF.values()))), abs=1)


def test_one_with_nothing_is_said_and_the_others_are_judged(tmp_path, capsys):
    paths = [write(tmp_path / f"{name}.csv", [(f"{9 + k / 2:.3f}",) for k in range(24)], "time") for name in "abc"]
    nothing = write(tmp_path / "eva.csv", [], "time")
    code, out, err = run(capsys, "group", *paths, nothing, "--tempo", 120)
    assert code == 0, err
    assert "eva has no onset at all; the others are judged" in " ".join(out.split())
    code, _, err = run(capsys, "group", nothing, "--tempo", 120)
    assert (code, "the table has no rows" in err) == (1, True)


def test_an_option_for_the_one_recording_that_is_left_out_stops_nobody(tmp_path, capsys):
    paths = [write(tmp_path / f"{name}.csv", [(f"{9 + k / 2:.3f}",) for k in range(24)], "time") for name in "ab"]
    code, out, err = run(capsys, "group", *paths, f"Cyl={tmp_path / 'cyl.wav'}", "--tempo", 120, "--kind", "clap")
    assert (code, "Cyl is left out" in err) == (0, True) and "Together" in out


def test_without_music_a_recorder_that_ran_for_long_changes_nothing(tmp_path, capsys):
    early, late = (clapping(tmp_path / f"{start}.csv", start + np.arange(32) * 0.5) for start in (0.0, 1e6 + 12.168))
    cards = []
    for table in (early, late):
        code, out, err = run(capsys, "group", table, "--tempo", 120, "--json")
        assert code == 0, err
        cards.append(json.loads(out))
    assert [m["offset_ms"] for m in cards[0]["members"]] == pytest.approx(
        [m["offset_ms"] for m in cards[1]["members"]], abs=0.01
    )
    assert [s["eight"] for s in cards[1]["detail"]["over_time"]] == [1, 2, 3, 4]
    code, out, _ = run(capsys, "group", late, "--tempo", 120)
    assert "to music" not in out and "their own first beat" in " ".join(out.split())


def test_a_group_that_is_kept_is_found_by_its_name(table, tmp_path, capsys):
    file = ("--file", tmp_path / "h.sqlite")
    for day in (3, 4):
        code, _, err = run(
            capsys, "group", table, "--tempo", 120, "--keep", "juniors", "--begun", f"2031-05-0{day}", *file
        )
        assert code == 0 and err == f"Kept as performance {day - 2} of juniors.\n"
    code, out, _ = run(capsys, "history", "--group", "juniors", "--json", *file)
    said = json.loads(out)
    assert code == 0 and [one["number"] for one in said["performances"]] == [1, 2]
    assert said["performances"][0]["width_ms"] == pytest.approx(100, abs=0.01)
    # nobody knows early and late on a table without music: no take of hers is kept
    code, out, _ = run(capsys, "history", "--json", *file)
    assert code == 0 and json.loads(out) == []
    for words, why in (
        (("group", table, "--tempo", 120, "--begun", "2031-05-03"), "--begun"),
        (("group", table, "--tempo", 120, "--keep", " ", *file), "expected a name"),
        (("history", "--group", "nobody", *file), "no performance of a group"),
        (("history", "--group", "juniors", "--words", "x", *file), "--words"),
    ):
        code, out, err = run(capsys, *words)
        assert code in (1, 2) and why in err and "Traceback" not in err and not out


def test_columns_are_read_as_is_said_or_as_was_answered(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    folder = tmp_path / "members"
    folder.mkdir()
    time = np.arange(1200) / 50
    for name, off in (("Ada", 0.0), ("Bea", 0.05), ("Cyl", 0.0)):
        angle = 2 * np.pi * 2 * (time - off)
        rows = zip(time, 0.3 * np.sin(angle), 0.02 * np.cos(angle), -0.3 * np.cos(angle), strict=True)
        write(folder / f"{name}.csv", [[f"{cell:.5f}" for cell in row] for row in rows], "time,x,y,z")
    words = ("group", folder, "--tempo", 120, "--json")
    code, out, err = run(capsys, *words)
    assert code == 1 and "nothing says what x, y and z are" in err and not out
    cards = [json.loads(run(capsys, *words, "--unit", "position=m")[1])]
    keep_answer(folder / "Ada.csv", "position", "m")
    cards.append(json.loads(run(capsys, *words)[1]))
    assert cards[0]["members"] == cards[1]["members"]
    assert cards[0]["group_range_ms"] == pytest.approx(50, abs=2)
    for command in ("trace", "learn"):
        out_file = (
            ("--out", tmp_path / "a.toml", "--counts", 1, "--hand", "right") if command == "learn" else ("--json",)
        )
        assert run(capsys, command, folder / "Bea.csv", *out_file)[0] == 0
    assert run(capsys, *words, "--unit", "position")[0] == 1

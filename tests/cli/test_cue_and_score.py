"""From a drill to a cue file, its plan, and a scorecard, by commands alone."""

import json

import numpy as np
import pytest
import soundfile

from tempo_coach.cli import main
from tempo_coach.pattern.drill.drill_file import find_drill


def run(capsys, *words):
    code = main([str(word) for word in words])
    caught = capsys.readouterr()
    return code, caught.out, caught.err


def write_onsets(path, rows):
    path.write_text("time,hand\n" + "".join(f"{time:.9f},{hand}\n" for time, hand in rows))
    return path


def test_a_cue_file_has_its_cues_where_its_plan_says(tmp_path, capsys):
    wav, plan = tmp_path / "mills.wav", tmp_path / "mills.json"
    options = ("--tempo", 100, "--cycles", 8, "--out", wav, "--plan", plan, "--json")
    code, out, _ = run(capsys, "cue", "clubs_mills", *options)
    assert code == 0
    printed = json.loads(out)
    assert printed == json.loads(plan.read_text())
    samples, rate_hz = soundfile.read(wav)
    assert rate_hz == 48_000
    for cue in printed["cues"]:
        assert np.abs(samples[round(cue["time"] * rate_hz)]).max() > 0
    moments = printed["moments"]
    assert len(moments) == 16
    assert set(moments[0]) >= {"time", "cycle", "hand", "label", "count", "cue"}
    # 100 beats a minute, a lead-in of eight counts, the first low point one count into the cycle
    assert moments[0]["time"] == pytest.approx(9 * 0.6)
    assert printed["lead_in_counts"] == 8


def test_onsets_at_the_moments_have_no_asynchrony(tmp_path, capsys):
    plan = tmp_path / "plan.json"
    assert run(capsys, "cue", "rope_figure_eight", "--tempo", 90, "--cycles", 10, "--plan", plan)[0] == 0
    rows = [(each["time"], each["hand"]) for each in json.loads(plan.read_text())["moments"]]
    onsets = write_onsets(tmp_path / "onsets.csv", rows)
    code, out, _ = run(capsys, "score", onsets, "--plan", plan, "--json")
    assert code == 0
    card = json.loads(out)
    assert card["bias_ms"] == pytest.approx(0, abs=1e-5)
    assert card["spread_ms"] == pytest.approx(0, abs=1e-5)
    assert card["n"] == 30
    assert card["missed"] == card["extra"] == 0
    assert card["f_measure"] == 1
    options = ("--drill", "rope_figure_eight", "--tempo", 90, "--cycles", 10)
    code, again, _ = run(capsys, "score", onsets, *options, "--json")
    assert code == 0
    assert json.loads(again) == card


def test_one_long_cycle_and_one_late_circle_are_named(tmp_path, music, capsys):
    from tempo_coach.demo import invent_onsets
    from tempo_coach.pattern.plan.plan_file import read_plan

    plan = tmp_path / "plan.json"
    options = ("--music", music, "--from-eight", 2, "--eights", 8, "--plan", plan)
    assert run(capsys, "cue", "rope_figure_eight", *options)[0] == 0
    onsets = invent_onsets(read_plan(plan))
    path = write_onsets(tmp_path / "onsets.csv", zip(onsets.time, onsets.hand, strict=True))
    code, out, _ = run(capsys, "score", path, "--plan", plan, "--json")
    assert code == 0
    flagged = {cycle["cycle"]: cycle["flags"] for cycle in json.loads(out)["cycles"] if cycle["flags"]}
    assert {5, 9} <= set(flagged)
    assert "long" in json.dumps(flagged[5])
    assert "late" in json.dumps(flagged[9])
    code, words, _ = run(capsys, "score", path, "--plan", plan)
    assert code == 0
    assert max(len(line) for line in words.splitlines()) <= 80


def test_the_cue_file_with_music_is_music_and_cues(tmp_path, music, invented, capsys):
    wav = tmp_path / "cues.wav"
    code, out, _ = run(capsys, "cue", "clubs_mills", "--music", music, "--from-eight", 3, "--out", wav, "--json")
    assert code == 0
    plan = json.loads(out)
    assert plan["passage"]["from_eight"] == 3
    assert plan["music"]["hash"]
    samples, rate_hz = soundfile.read(wav)
    assert rate_hz == invented.sound.rate_hz
    assert len(samples) == pytest.approx((plan["duration"] + 0.5) * rate_hz, abs=1)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--tempo", "0"), "20 to 400 beats a minute, got 0"),
        (("--tempo", "1000"), "20 to 400 beats a minute, got 1000"),
        (("--tempo", "100", "--speed", "3"), "speed of 0.5 to 1.2"),
        (("--tempo", "100", "--rate", "5"), "--rate"),
        (("--music", "gone.wav"), "gone.wav"),
    ],
)
def test_what_cannot_be_cued_is_said_and_nothing_is_written(words, said, tmp_path, capsys):
    out = tmp_path / "out.wav"
    code, _, err = run(capsys, "cue", "clubs_mills", *words, "--out", out)
    assert code == 1
    assert said in err
    assert list(tmp_path.iterdir()) == []


def test_an_existing_cue_file_is_kept(tmp_path, capsys):
    out = tmp_path / "out.wav"
    out.write_bytes(b"mine")
    code, _, err = run(capsys, "cue", "clubs_mills", "--out", out)
    assert code == 1
    assert "--force" in err
    assert out.read_bytes() == b"mine"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("time,hand\n1,right\nNaN,left\n", ":3: expected a time in seconds, found 'NaN'"),
        ("a,b\n1,2\n", "expected a column time"),
        ("time,hand\nsoon,right\n", ":2: expected a time in seconds, found 'soon'"),
        ("", "empty"),
    ],
)
def test_a_bad_table_is_said_with_its_line(content, said, tmp_path, capsys):
    path = tmp_path / "onsets.csv"
    path.write_text(content)
    code, out, err = run(capsys, "score", path, "--drill", "clubs_mills", "--tempo", 100)
    assert (code, out) == (1, "")
    assert said in err


def test_onsets_out_of_order_are_scored_all_the_same(tmp_path, capsys):
    rows = [(5.4 + 1.2 * k, "right") for k in range(8)] + [(6.0 + 1.2 * k, "left") for k in range(8)]
    path = write_onsets(tmp_path / "onsets.csv", rows)
    code, out, err = run(capsys, "score", path, "--drill", "clubs_mills", "--tempo", 100, "--cycles", 8, "--json")
    assert code == 0
    assert "put in order" in err
    assert json.loads(out)["missed"] == 0


def test_a_plan_of_another_version_is_refused(tmp_path, capsys):
    plan = tmp_path / "plan.json"
    plan.write_text('{"version": 7}')
    onsets = write_onsets(tmp_path / "onsets.csv", [(1.0, "right")])
    code, _, err = run(capsys, "score", onsets, "--plan", plan)
    assert code == 1
    assert "version 1, found version 7" in err


def test_score_without_a_table_says_what_is_missing(capsys):
    code, _, err = run(capsys, "score", "--drill", "clubs_mills")
    assert code == 1
    assert "table of onsets" in err


def test_the_second_file_that_cannot_be_written_leaves_the_first_unwritten(tmp_path, capsys):
    drill = tmp_path / "mine.toml"
    drill.write_text(find_drill("clubs_mills").read_text(encoding="utf-8"), encoding="utf-8")
    out = tmp_path / "out.wav"
    code, _, err = run(capsys, "cue", drill, "--out", out, "--plan", drill, "--force")
    assert code == 1
    assert "does not write over it" in err
    assert not out.exists()
    assert drill.read_text(encoding="utf-8") == find_drill("clubs_mills").read_text(encoding="utf-8")


def test_a_plan_may_go_to_standard_output_for_another_program(tmp_path, capfd):
    assert main(["cue", "clubs_mills", "--cycles", "4", "--plan", "/dev/stdout"]) == 0
    text = capfd.readouterr().out
    values, end = json.JSONDecoder().raw_decode(text)
    assert len(values["moments"]) == 8
    assert "4 cycles" in text[end:]

import json

from tempo_coach.cli import main

FILES = {"music.wav", "cues.wav", "plan.json", "onsets.csv", "scorecard.json"}


def test_the_demo_runs_the_whole_way_and_names_the_two_faults(tmp_path, capsys):
    assert main(["demo", "--out", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    assert {path.name for path in tmp_path.iterdir()} == FILES
    card = json.loads((tmp_path / "scorecard.json").read_text())
    flagged = {cycle["cycle"] for cycle in card["cycles"] if cycle["flags"]}
    assert {5, 9} <= flagged
    assert card["missed"] == card["extra"] == 0
    assert "invented" in said
    assert str(tmp_path) in said


def test_the_demo_overwrites_nothing(tmp_path, capsys):
    (tmp_path / "plan.json").write_text("mine")
    assert main(["demo", "--out", str(tmp_path)]) == 1
    assert "--force" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["plan.json"]

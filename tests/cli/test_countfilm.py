"""A film of the counts of a piece of music."""

from tempo_coach.cli import main


def test_what_cannot_be_written_is_said_and_nothing_is_lost(music, tmp_path, capsys):
    assert main(["countfilm", str(music), "--out", str(tmp_path / "x.avi")]) == 1
    assert ".mp4" in capsys.readouterr().err
    there = tmp_path / "there.mp4"
    there.write_text("mine")
    assert main(["countfilm", str(music), "--out", str(there)]) == 1
    assert there.read_text() == "mine"
    assert main(["countfilm", str(tmp_path / "none.toml"), "--out", str(tmp_path / "y.mp4")]) == 1

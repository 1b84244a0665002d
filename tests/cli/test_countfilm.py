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


def test_what_is_asked_for_in_vain_is_said(music, tmp_path, capsys):
    assert main(["countfilm", str(music)]) == 2
    assert "--cards" in capsys.readouterr().err
    assert main(["countfilm", str(music), "--cards", str(tmp_path / "x.txt")]) == 1
    assert ".pdf" in capsys.readouterr().err
    assert main(["countfilm", str(music), "--out", str(tmp_path / "x.mp4"), "--clicks", "--voice"]) == 2
    assert main(["countfilm", str(music), "--cards", str(tmp_path / "x.html"), "--voice"]) == 2
    assert not list(tmp_path.iterdir())


def test_cards_of_a_sound_file_have_its_counts_alone(music, tmp_path, capsys):
    assert main(["countfilm", str(music), "--cards", str(tmp_path / "cards.html")]) == 0
    assert (tmp_path / "cards.html").read_text().count("<section>") > 4 and "cards ->" in capsys.readouterr().out

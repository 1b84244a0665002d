"""Cues of a routine: its counts as corrected, all that is laid on them, and the music as it is."""

import json

import numpy as np
import pytest
import soundfile

from tempo_coach import coach
from tempo_coach.cli import main


@pytest.fixture(scope="module")
def routine(tmp_path_factory, music, invented):
    folder = tmp_path_factory.mktemp("routine")
    (folder / "my mills.toml").write_text(
        'title = "My mills"\napparatus = "clubs"\n[cycle]\ncounts = 4\n'
        '[[phase]]\nname = "low"\nstart = "1"\nend = "5"\ncircles = 2\n[[hand]]\nname = "left"\n'
    )
    path = folder / "spring.toml"
    # a coach says that the count three beats later is the one
    path.write_text(
        f'title = "Spring, invented"\n[music]\nfile = "{music.as_posix()}"\n'
        f'[[correction]]\ndo = "one"\nat = {invented.beats[3]:.3f}\n'
        '[[lay]]\ndrill = "clubs_mills"\neight = 2\neights = 2\n'
        '[[lay]]\ndrill = "rope_figure_eight"\neight = 5\ncount = "5"\n'
    )
    return path


@pytest.fixture(scope="module")
def opened(routine):
    return coach.open_routine(routine)


def test_a_whole_routine_is_written_slowed_with_spoken_counts(routine, opened, tmp_path, capsys):
    out, plan_file = tmp_path / "gym.flac", tmp_path / "plan.json"
    words = ["cue", routine, "--speed", 0.8, "--voice", "--out", out, "--plan", plan_file]
    assert main([str(word) for word in words]) == 0
    assert "Spring, invented: " in capsys.readouterr().out
    plan = json.loads(plan_file.read_text())
    assert plan["drill"] == "spring" and {each["label"] for each in plan["moments"]}
    # the first moment of the mills, in the music, by the corrected counts: a count after the one of eight 2
    piece = plan["pieces"][0]
    first = piece["music_start"] + plan["moments"][0]["time"] * 0.8
    low = coach.load_drill("clubs_mills").pattern.hands[0].moments[0].at
    start = opened.counts.start_of_eight(2)
    assert first == pytest.approx(float(opened.counts.seconds_at(start + low, after=True)), abs=1e-6)
    assert any(cue["sound"].startswith("say ") for cue in plan["cues"])
    assert soundfile.info(out).duration == pytest.approx(plan["duration"], abs=1.0)


def test_counts_are_those_that_were_corrected(routine, opened, invented, capsys):
    words = ["cue", "clubs_mills", "--music", routine, "--from-eight", 1, "--eights", 2, "--json"]
    assert main([str(word) for word in words]) == 0
    plan = json.loads(capsys.readouterr().out)
    one = plan["pieces"][0]["music_start"] + np.interp(0, plan["counts"]["count"], plan["counts"]["time"])
    assert one == pytest.approx(invented.beats[3], abs=0.05)
    assert opened.counts.seconds_at(0) == pytest.approx(invented.beats[3], abs=0.05)


def test_a_stretch_is_practised_where_it_is_laid(opened, routine):
    plan = coach.lay_routine(opened, coach.Request("", from_eight=5, eights=2))
    assert [each.drill for each in plan.sections] == ["rope_figure_eight"] and coach.hands_of(routine)[0] == "right"
    assert plan.sections[0].cycle_starts == tuple(opened.counts.start_of_eight(5) + k for k in (4.0, 8.0))
    assert plan.first_count == opened.counts.start_of_eight(5)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--music", "x.wav"], "--music: the routine decides this"),
        (["--tempo", "100"], "--tempo: the routine decides this"),
        (["--mirrored"], "--mirrored: the routine decides this"),
    ],
)
def test_what_the_routine_decides_is_not_asked_for(routine, options, words, capsys):
    assert main(["cue", str(routine), "--json", *options]) == 1
    assert words in capsys.readouterr().err


def test_a_tempo_beside_a_routine_as_music_is_refused(routine, capsys):
    assert main(["cue", "clubs_mills", "--music", str(routine), "--tempo", "100", "--json"]) == 1
    assert "the routine says how its music is counted" in capsys.readouterr().err


def test_a_drill_of_her_own_lies_beside_the_routine(routine, opened):
    from dataclasses import replace

    from tempo_coach.music.counts.count_map import Position
    from tempo_coach.pattern.routine.routine import Laid

    own = replace(opened, routine=replace(opened.routine, laid=(Laid("my mills.toml", Position(3, 1.0), 1),)))
    plan = coach.lay_routine(own, coach.Request(""))
    assert plan.hands == ("left",) and len(plan.moments) == 4


def test_the_music_that_a_routine_names_is_not_written_over(routine, music, tmp_path, capsys):
    before = music.read_bytes()
    out = tmp_path / "new.wav"
    assert main(["cue", str(routine), "--out", str(out), "--plan", str(music), "--force"]) == 1
    assert "was read and is not written over" in capsys.readouterr().err
    assert music.read_bytes() == before
    assert not out.exists()


def unheard(*_, **__):
    raise AssertionError("the music is heard before it is known what for")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--from-eight", "0"), "--from-eight: expected a number from 1 to 20000, got 0"),
        (("--from-eight", "-3"), "--from-eight: expected a number from 1 to 20000, got -3"),
        (("--from-eight", "900"), " s of music have "),
        (("--eights", "0"), "--eights: expected a number from 1"),
        (("--cycles", "0"), "--cycles: expected a number from 1"),
        (("--speed", "7"), "--speed: expected a speed of"),
        (("--lead-in", "900"), "--lead-in: expected a lead-in"),
        (("--tempo", "7"), "--tempo: expected a tempo"),
    ],
)
def test_what_can_be_refused_is_refused_before_the_music_is_heard(words, said, music, monkeypatch, capsys):
    from tempo_coach.music.beats import finder

    monkeypatch.setattr(finder, "find_beats", unheard)
    assert main(["cue", "clubs_mills", "--music", str(music), *words, "--json"]) == 1
    assert said in capsys.readouterr().err


@pytest.mark.parametrize(
    ("command", "eight", "said"),
    [
        (("cue", "--json"), "0", "--from-eight: expected a number from 1"),
        (("cue", "--json"), "90", "nothing is laid on eights 90 to the end; there is "),
        (("practise",), "90", "nothing is laid on eights 90 to the end; there is "),
        (("practise",), "0", "--from-eight: expected a number from 1"),
    ],
)
def test_an_eight_on_which_nothing_is_laid_is_refused_before_the_music_is_heard(
    routine, command, eight, said, monkeypatch, capsys
):
    from tempo_coach.music.beats import finder

    monkeypatch.setattr(finder, "find_beats", unheard)
    monkeypatch.setattr("tempo_coach.ui.terminal.check_terminal", lambda **_: None)
    assert main([command[0], str(routine), *command[1:], "--from-eight", eight]) == 1
    assert said in capsys.readouterr().err

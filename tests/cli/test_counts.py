"""What is said before the screen for counts opens, and odd music that it has to open with."""

from dataclasses import replace

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.cli import main
from tempo_coach.coach import routines
from tempo_coach.errors import CoachError
from tempo_coach.music.counts.corrections import Correction
from tempo_coach.music.files.sound import Sound
from tempo_coach.music.files.sound_file import write_sound
from tempo_coach.pattern.routine.routine_file import read_routine
from tempo_coach.report.words.reasons import say_note


def write(path, samples, rate_hz):
    write_sound(path, Sound(samples.astype(np.float32), rate_hz), subtype="FLOAT" if rate_hz > 96_000 else None)
    return path


@pytest.fixture(scope="module")
def heard(music):
    return coach.hear(music)


def click(rate_hz):
    samples = np.zeros((12 * rate_hz, 1))
    samples[5 * rate_hz] = 1
    return samples


@pytest.mark.parametrize(
    ("name", "samples", "rate_hz"),
    [
        ("silence.wav", np.zeros((96_000, 1)), 8000),
        ("click.wav", click(8000), 8000),
        ("noise.wav", np.random.default_rng(1).normal(0, 1e-4, (10 * 8000, 1)), 8000),
    ],
)
def test_music_without_a_beat_gets_even_counts_to_be_put_right(tmp_path, name, samples, rate_hz):
    music = write(tmp_path / name, samples, rate_hz)
    said = []
    opened = coach.begin_routine(tmp_path / "r.toml", music, warn=said.append)
    if name != "noise.wav":
        assert "counts are laid evenly at 100 a minute" in say_note(said[0])
        np.testing.assert_allclose(np.diff(opened.counts.beats), 0.6)
    assert opened.counts.beats.size >= 2
    with pytest.raises(CoachError):
        coach.begin_routine(tmp_path / "r.toml", write(tmp_path / "short.wav", samples[:4000], rate_hz))


@pytest.mark.parametrize(("rate_hz", "channels"), [(8000, 1), (192_000, 6)])
def test_unusual_rates_and_channels_are_opened(tmp_path, rate_hz, channels):
    time = np.arange(int(14 * rate_hz)) / rate_hz
    beat = np.exp(-20 * (time % 0.5)) * np.sin(2 * np.pi * 880 * time)
    music = write(tmp_path / "odd.wav", np.repeat(0.5 * beat[:, None], channels, axis=1), rate_hz)
    opened = coach.begin_routine(tmp_path / "r.toml", music)
    assert opened.counts.tempo_bpm == pytest.approx(120, rel=0.02) or opened.counts.tempo_bpm == pytest.approx(
        60, rel=0.02
    )


def test_a_saved_routine_opens_with_what_was_tapped_or_known(tmp_path, music, invented, heard, monkeypatch):
    known = tmp_path / "known.txt"
    known.write_text("".join(f"{beat:.5f}\n" for beat in invented.beats))
    path = tmp_path / "ball.toml"
    opened = coach.begin_routine(path, music, known=known)
    coach.save_routine(opened)
    routine = read_routine(path)
    assert [each.do for each in routine.corrections] == ["tapped", "pause", "one"]
    monkeypatch.setattr(routines, "hear", lambda *_, **__: heard)
    again = coach.open_routine(path)
    assert again.said == ()
    np.testing.assert_allclose(again.counts.beats, invented.beats, atol=1e-4)
    assert again.counts.eights[0] == (0, 8)
    assert again.counts.pauses[0][1] == pytest.approx(invented.pause[1], abs=1e-4)


def test_corrections_that_found_no_place_any_more_are_said(tmp_path, music, heard, monkeypatch):
    monkeypatch.setattr(routines, "hear", lambda *_, **__: heard)
    path = tmp_path / "ball.toml"
    opened = coach.begin_routine(path, music)
    lost = replace(opened, routine=replace(opened.routine, corrections=(Correction("one", 400.0),)))
    coach.save_routine(lost)
    said = list(map(say_note, coach.open_routine(path).said))
    assert any("found no place any more (this is one, at 6:40.00)" in each for each in said)
    assert any("behind the end of the music" in each for each in said)


def test_without_a_terminal_it_says_so(music, capsys):
    assert main(["counts", str(music)]) == 1
    assert "need a terminal" in capsys.readouterr().err

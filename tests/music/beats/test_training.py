"""What made the weights still makes what they were made of: packing, music by rule, and the steps' commands."""

import subprocess
import sys

import numpy as np

from tempo_coach.music.beats import network
from tempo_coach.music.beats.training.compose import compose, pick_style
from tempo_coach.music.beats.training.export import export
from tempo_coach.music.beats.training.fluid import RATE_HZ
from tempo_coach.music.beats.training.make import leave_out
from tempo_coach.music.beats.training.styles import STYLES


def test_weights_come_back_from_the_file_within_their_fifteen_bits(tmp_path):
    numbers = np.random.default_rng(0).normal(size=(40, 3)).astype(np.float32)
    np.savez(tmp_path / "trained.npz", some=numbers)
    export(tmp_path / "trained.npz", place=tmp_path / "beats.npz")
    with np.load(tmp_path / "beats.npz") as packed:
        assert packed["some"].shape == (40, 3, 3)
        np.testing.assert_allclose(network.unpack(packed["some"]), numbers, rtol=2**-16)


def test_every_style_makes_music_whose_notes_lie_on_its_beats():
    for number, name in enumerate(STYLES):
        piece = compose(np.random.default_rng(number), bars=4, name=name)
        starts = np.array([note[0] for note in piece.notes] + [hit[0] for hit in piece.hits])
        assert len(starts) > 4, name
        assert starts.min() > -1
        assert len(piece.programs) == len(piece.gains)
    assert {pick_style(np.random.default_rng(seed)) for seed in range(40)} <= set(STYLES)


def test_without_a_step_the_command_says_which_there_are():
    done = subprocess.run(
        [sys.executable, "-m", "tempo_coach.music.beats.training"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 1
    for step in ("scores OUT", "make FOLDER", "train EXAMPLES", "export WEIGHTS"):
        assert step in done.stderr


def test_a_cut_from_beat_to_beat_keeps_the_beat_and_moves_the_ones():
    rate = RATE_HZ
    beats = np.stack([0.5 * np.arange(150), np.arange(150) % 4 == 0, np.arange(150) % 8 == 0], axis=1).astype(float)
    sound = np.zeros(75 * rate, np.float32)
    rng = np.random.default_rng(3)
    shorter, left = leave_out(rng, sound, beats, 62.0)
    assert len(left) < len(beats)
    np.testing.assert_allclose(np.diff(left[:, 0]), 0.5, atol=1e-4)
    assert len(shorter) == len(sound) - round((75 - len(left) / 2) * rate)

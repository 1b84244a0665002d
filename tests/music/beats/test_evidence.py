"""What speaks for beats: the network where it can add something, else onsets alone."""

import numpy as np
import pytest

from tempo_coach.music.beats.evidence import NETWORK_SCORING, Evidence, gather_evidence
from tempo_coach.music.beats.features import FINE_HZ, FRAME_HZ, HEARD_HZ
from tempo_coach.music.beats.network import Activations
from tempo_coach.music.beats.scoring import Scoring
from tempo_coach.music.beats.tempo import INTERVALS
from tempo_coach.music.files.sound import Sound
from tests.music.beats.test_finder import clicks
from tests.music.beats.test_network import play_drums

BEATS = 0.8 + 0.5 * np.arange(38)
MUSIC = Sound(play_drums(BEATS, seconds=20)[:, None], HEARD_HZ)


@pytest.mark.parametrize("use_network", [True, False])
def test_beats_stand_out_and_their_interval_is_the_likeliest(use_network):
    evidence = gather_evidence(MUSIC, use_network=use_network)
    assert (evidence.heard is not None) is use_network
    assert evidence.scoring == (NETWORK_SCORING if use_network else Scoring())
    frames = np.round(BEATS[2:-2] * FRAME_HZ).astype(int)
    at = np.mean([evidence.beat[frame - 2 : frame + 3].max() for frame in frames])
    quarter = np.round((BEATS[2:-2] + 0.13) * FRAME_HZ).astype(int)
    assert at > 3 * max(0.1, float(evidence.beat[quarter].mean()))
    likely = INTERVALS[evidence.tempo[5:-5].mean(axis=0).argmax()]
    assert min(abs(likely - k * 0.5 * FRAME_HZ) for k in (0.5, 1, 2)) < 2


@pytest.mark.parametrize("use_network", [True, False])
def test_frames_are_placed_on_their_beats_and_bars_are_numbered(use_network):
    evidence = gather_evidence(MUSIC, use_network=use_network)
    placed = evidence.place(np.round(BEATS * FRAME_HZ).astype(int))
    assert np.median(np.abs(placed - BEATS)) < 0.01
    assert (np.diff(placed) > 0.4).all()
    assert evidence.number(BEATS, meter=4, one=8).bar.tolist() == (np.arange(38) % 4 + 1).tolist()
    assert evidence.number(BEATS, meter=3, one=1).bar[:4].tolist() == [3, 1, 2, 3]


def test_a_row_of_clicks_is_not_given_to_the_network():
    sound = clicks(BEATS, seconds=20)
    asked = []
    assert gather_evidence(sound, progress=asked.append).heard is None
    assert asked == sorted(asked) and asked[-1] == 1


def test_each_tempo_of_the_network_is_weighed_against_the_likeliest():
    tempo = gather_evidence(MUSIC).tempo
    assert tempo.max(axis=1) == pytest.approx(0, abs=1e-5)
    assert tempo.min() < -2


def test_between_two_frames_a_beat_is_placed_by_what_the_network_hears_on_either_side():
    beat = np.zeros(1000, np.float32)
    beat[100:102], beat[300], beat[301] = 0.4, 0.9, 0.3
    heard = Activations(beat, beat, beat, np.full((1000, 90), 1 / 90, np.float32))
    silent = np.zeros(4411, np.float32)
    evidence = Evidence(beat, np.zeros((21, len(INTERVALS)), np.float32), NETWORK_SCORING, silent, heard)
    placed = evidence.place(np.array([100, 300])) * FRAME_HZ
    np.testing.assert_allclose(placed, [100.5, 300.25], atol=1e-5)
    assert evidence.place(np.array([0, 999])) == pytest.approx(np.array([0, 999]) / FRAME_HZ)


def test_where_an_onset_is_sharp_as_a_click_its_own_moment_counts():
    beat = np.zeros(1000, np.float32)
    beat[300] = 0.9
    heard = Activations(beat, beat, beat, np.full((1000, 90), 1 / 90, np.float32))
    point = round((300 / FRAME_HZ + 0.008) * FINE_HZ)
    fine = np.zeros(4411, np.float32)
    fine[point] = 1.0
    evidence = Evidence(beat, np.zeros((21, len(INTERVALS)), np.float32), NETWORK_SCORING, fine, heard)
    assert evidence.place(np.array([300]))[0] == pytest.approx(point / FINE_HZ, abs=1e-6)

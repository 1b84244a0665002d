"""The finder held to music that others wrote and to measures that others defined.

Scores in the public domain from music21's corpus (Bach's chorales; tunes that Ryan printed in 1883; a quartet of
Mozart's), played on a tempo that bends, judged by mir_eval with its defaults. The floors lie a little under what was
measured when they were set; a mistake in the finder's core costs far more.
"""

import numpy as np
import pytest

from tempo_coach.music.beats.finder import find_beats
from tests.benchmarks.beat_set.judged import judge_beats
from tests.benchmarks.beat_set.played import play
from tests.benchmarks.beat_set.written import read_written
from tests.music.small_synth import render_small

#: Score, tempo, how it bends, drums, pauses.
PIECES = [
    ("bach/bwv66.6", 104, "drift", "soft", 0),
    ("bach/bwv297", 84, "rubato", None, 0),
    ("bach/bwv360", 92, "drift", None, 2),
    ("ryansMammoth/PicnicReel", 112, "drift", None, 0),
    ("mozart/k80/movement2", 132, "ramp", None, 0),
    ("oneills1850/0001-0050#12", 108, "step", None, 2),
]


@pytest.fixture(scope="module")
def music(tmp_path_factory):
    cache = tmp_path_factory.mktemp("scores")
    rendered = []
    for number, (name, bpm, tempo, drums, pauses) in enumerate(PIECES):
        rng = np.random.default_rng(number)
        played = play(
            read_written(name, cache),
            [0],
            bpm=bpm,
            tempo=tempo,
            seconds=45,
            rng=rng,
            drums=drums,
            pauses=pauses,
            loose=0.008,
        )
        rendered.append((played, render_small(played)))
    return rendered


def measure(music, find):
    rows = [
        judge_beats(find(sound, played), played.beats, np.reshape(played.pauses, (-1, 2))) for played, sound in music
    ]
    return {name: float(np.nanmean([row[name] for row in rows])) for name in rows[0]}


def test_beats_of_scores_are_found_from_onsets_alone(music):
    mean = measure(music, lambda sound, played: find_beats(sound, use_network=False).times)
    assert mean["F"] > 0.75
    assert abs(mean["bias"]) < 5
    assert mean["error"] < 12
    assert mean["invented"] <= 2


def test_a_hint_decides_the_level(music):
    def find(sound, played):
        hint = 1.05 * 60 / np.median(np.diff(played.beats))
        return find_beats(sound, tempo_bpm=hint, use_network=False).times

    mean = measure(music, find)
    # from onsets alone one of the three keeps its own level: what goes at the hint unaided is left alone
    assert mean["tempo 8 %"] > 0.66
    assert mean["AMLt"] > 0.7


def test_taps_of_one_hearing_become_beats(music):
    def find(sound, played):
        rng = np.random.default_rng(len(played.beats))
        taps = played.beats - 0.025 + rng.normal(0, 0.035, len(played.beats))
        taps = np.concatenate([taps[rng.random(len(taps)) > 0.015], taps[rng.random(len(taps)) < 0.015] + 0.08])
        return find_beats(sound, taps=taps).times

    mean = measure(music, find)
    assert mean["F"] > 0.95
    assert mean["error"] < 8
    assert abs(mean["bias"]) < 5
    assert mean["invented"] == 0

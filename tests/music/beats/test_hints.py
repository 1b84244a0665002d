"""Hints that are right, that lead to beats which are hardly heard, and that are not followed."""

import numpy as np
import pytest

from tempo_coach.music.beats.finder import find_beats
from tempo_coach.music.beats.hints import find_unheard_hints
from tests.benchmarks.beat_set.played import play
from tests.benchmarks.beat_set.written import make_up
from tests.music.small_synth import render_small

BASS, GUITAR, LEAD = 33, 24, 80
TEMPO_BPM = 119.0


@pytest.fixture(scope="module")
def piece():
    rng = np.random.default_rng(6)
    band, written = [BASS, GUITAR, LEAD], make_up(6, meter=4, bars=12)
    return render_small(play(written, band, bpm=TEMPO_BPM, tempo="drift", seconds=30, rng=rng, drums="rock"))


@pytest.mark.parametrize(
    ("times", "told"),
    [(0.95, []), (1.0, []), (1.05, []), (0.5, []), (0.67, ["tempo.hardly_heard"]), (0.85, ["tempo.not_heard"])],
)
def test_a_wrong_tempo_is_told_and_a_right_one_or_a_level_of_it_is_not(piece, times, told):
    problems = []
    find_beats(piece, tempo_bpm=times * TEMPO_BPM, warn=problems.append)
    assert [each.code for each in problems] == told
    assert all(each.facts.get("rather_bpm", TEMPO_BPM) == pytest.approx(TEMPO_BPM, rel=0.05) for each in problems)


def test_a_metre_that_few_bars_have_is_told_with_the_one_that_most_have():
    beats, bar = np.arange(40) * 0.5, np.arange(40) % 4 + 1
    assert find_unheard_hints(beats, bar, tempo_bpm=120.0, meter=4) == []
    (told,) = find_unheard_hints(beats, bar, tempo_bpm=None, meter=3)
    assert told.code == "meter.not_heard" and told.facts["found"] == 4

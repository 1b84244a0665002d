"""What intervals are worth and what changes cost: the two questions the search asks agree with each other."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.music.beats.scoring import PAD, IntervalScores, Scoring
from tempo_coach.music.beats.tempo import INTERVALS

NUMBER = len(INTERVALS)


def make(scoring=None, *, beat=None, tempo=0.5):
    beat = np.full(400, 0.5, np.float32) if beat is None else beat
    return IntervalScores(beat, np.full((9, NUMBER), tempo, np.float32), np.zeros(NUMBER), scoring or Scoring())


@given(st.integers(0, 2**32 - 1), st.floats(0.1, 20), st.integers(0, NUMBER - 1))
def test_the_best_way_to_arrive_is_worth_what_going_on_is_said_to_be(seed, spread, column):
    scores = make()
    totals = np.random.default_rng(seed).normal(0, spread, NUMBER).astype(np.float32)
    best = scores.changed(totals[None])[0]
    came = scores.arrive(totals, column)
    price = totals[came] - best[column]
    assert -1e-4 <= price <= Scoring().jump + 1e-4
    # nobody arrives at a better total by paying for a jump
    assert best[column] >= totals.max() - Scoring().jump - 1e-4


def test_staying_at_the_tempo_costs_nothing_a_small_change_little_and_a_jump_its_price():
    scoring = Scoring(change=45.0, jump=2.0)
    totals = np.full((1, NUMBER), -100.0, np.float32)
    totals[0, 40] = 0.0
    best = make(scoring).changed(totals)[0]
    assert best[40] == 0
    assert 0 > best[45] > best[50] > -2
    assert best[100] == pytest.approx(-2)
    assert (np.argmax(best), best.min()) == (40, pytest.approx(-2))


def test_an_interval_is_worth_its_seconds_and_a_beat_after_rest_the_shortest():
    scores = make(Scoring(beat=1.0, tempo=0.0, prior=0.0, threshold=0.1), beat=np.full(400, 0.6, np.float32))
    after_beat, after_rest = scores.after_beat(PAD + 200, PAD + 201)[0], scores.after_rest(PAD + 200, PAD + 201)[0]
    np.testing.assert_allclose(after_beat, 0.5 * INTERVALS * 220 / 22_050, rtol=1e-5)
    np.testing.assert_allclose(after_rest, after_beat[0], rtol=1e-6)


def test_where_nothing_begins_a_tempo_that_fits_is_no_reason_for_a_beat_and_one_that_does_not_speaks_against_it():
    silent = np.zeros(400, np.float32)
    at = (PAD + 200, PAD + 201)
    plain = make(Scoring(tempo=0.0), beat=silent).after_beat(*at)
    np.testing.assert_allclose(make(beat=silent, tempo=1.0).after_beat(*at), plain, atol=1e-6)
    assert (make(beat=silent, tempo=-1.0).after_beat(*at) < plain).all()


def test_outside_the_music_nothing_happens():
    assert (make().onset[:PAD] < 0).all() and (make().onset[-PAD:] < 0).all()
    assert (make(beat=np.full(400, 2.0, np.float32)).onset[PAD:-PAD] > 0).all()

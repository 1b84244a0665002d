"""Real people who tapped to a metronome: bias, spread, count and intervals are those of plain recomputation.

Nine trials of the data of R. Bååth & G. Madison, "The subjective difficulty of tapping to a slow beat", *Proceedings of
the 12th International Conference on Music Perception and Cognition* (2012) 82-85, as published with R. Bååth's scripts
under the MIT licence (repository rasmusab/bayes_timing): of three people the first trial at three intervals. Lateness
of each tap behind its tone, in ms. All trials are a benchmark (``tappers``).
"""

import numpy as np
import pytest
import scipy.stats

from tempo_coach.score.card import judge
from tests.benchmarks.bench_tappers import bears_out, take_of
from tests.benchmarks.told import tellings

TRIALS = (
    (
        2,
        600,
        """
     -40 -76 -96 -106 -68 -73 -78 -58 -73 -67 -58 -45 -22 -15 -32 -16 -29 -26 -36 -49 -52 -15 -9 -24 -47 -29
     -4
     """,
    ),
    (
        2,
        1200,
        """
     154 -147 -293 -112 -137 -131 -127 -101 -79 -70 -99 -127 -231 -23 -78 -105 -150 -20 -39 7 -122 -86 -36
     -102 -98 -117 -121 -156 -73 -113
     """,
    ),
    (
        2,
        3000,
        """
     144 -85 -553 -172 -36 -63 -356 -144 -284 -21 58 120 77 -51 -64 -194 -390 -357 -87 -5 -206 -192 56 -134
     -267 -208 -297
     """,
    ),
    (
        9,
        600,
        """
     196 91 -49 -119 -158 -141 -141 -140 -112 -127 -144 -112 -83 -104 -87 -110 -111 -77 -51 -108 -155 -137
     -114 -104 -87 -73 -106 -94 -84 -71 -97
     """,
    ),
    (
        9,
        1200,
        """
     264 -135 -130 -107 -153 -78 -92 -146 -68 -130 -147 -172 -159 -113 -133 -206 -211 -62 -94 -88 -93 -125
     -106 -122 -85 -62 -74 -213 -160 -189
     """,
    ),
    (
        9,
        3000,
        """
     149 -1003 -756 -348 -315 -138 -105 -196 -421 -372 -362 -140 101 167 -416 -255 -470 63 -340 -313 -58 139
     -401 -312 -347 -225 -410 -195 -57 21
     """,
    ),
    (
        21,
        600,
        """
     -30 -56 -54 -60 -49 -68 -65 -56 -54 -58 -57 -53 -30 -65 -78 -95 -65 -94 -105 -113 -120 -63 -123 -82 -105
     -76 -80
     """,
    ),
    (
        21,
        1200,
        """
     61 22 20 77 -78 -7 -80 -71 -77 -44 -35 -80 -143 -144 -41 -24 -42 -16 34 -61 -36 -49 -135 -148 -48 -13 -13
     25 -3
     """,
    ),
    (
        21,
        3000,
        """
     -285 -156 -285 -270 -107 -247 52 -103 -410 -446 59 113 -278 -357 176 -11 -427 -15 -285 -482 -11 -9 -268
     -100 161 144 172 -289
     """,
    ),
)


@pytest.mark.parametrize(("person", "interval_ms", "taps"), TRIALS)
def test_a_trial_is_told_as_it_was(person, interval_ms, taps):
    late = np.array(taps.split(), dtype=float)
    number = np.arange(len(late))
    card = judge(take_of(interval_ms / 1000, number, late / 1000))
    assert card.measures["bias_ms"].n == len(late) and not len(card.missed) and not len(card.extra_time)
    assert card.value("bias_ms") == pytest.approx(late.mean())
    assert card.value("spread_ms") == pytest.approx(late.std(ddof=1))
    ratios = 1 + np.diff(late) / interval_ms
    assert card.value("period_mean_ms") == pytest.approx(interval_ms * ratios.mean())
    assert card.value("period_cv_pct") == pytest.approx(100 * scipy.stats.variation(ratios, ddof=1))
    assert card.value("drift_pct_per_cycle") == pytest.approx(
        100 * scipy.stats.theilslopes(ratios, number[:-1]).slope, abs=1e-9
    )
    bias = card.measures["bias_ms"]
    assert bias.low < bias.value < bias.high
    # what is told of a single tap is borne out by a plain look at the trial
    assert all(bears_out(told, interval_ms / 1000, number, late / 1000) for told in tellings(card)), person

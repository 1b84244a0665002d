"""Joints on counts that are 20 ms wrong, in music that nothing was tuned on."""

import numpy as np
import pytest

from tempo_coach.errors import CoachError
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.music.cutting.attacks import find_attack
from tempo_coach.music.cutting.cut_list import CutList, CutPiece
from tempo_coach.music.cutting.joints import KeptSpan, join
from tempo_coach.music.cutting.render import render
from tempo_coach.music.files.sound import Sound
from tests.generators.workplace import invented_music
from tests.music.small_synth import render_small
from tests.ui.cut_music import compose


@pytest.fixture(scope="module")
def wrong():
    """The demo's music, its counts 20 ms early or late."""
    made = invented_music()
    shift = np.random.default_rng(2).choice([-0.02, 0.02], made.beats.size)
    return made, CountMap(made.beats + shift)


def test_the_beat_goes_on_across_a_joint(wrong):
    """The truth is the generator's; the benchmark asks a detector of others, in music played by a sound font."""
    made, counts = wrong
    pieces, joints = join(made.sound, counts, [KeptSpan(8, 16), KeptSpan(24, 32), KeptSpan(96, 104), KeptSpan(64, 72)])
    for joint, before, behind in zip(joints, pieces[:-1], pieces[1:], strict=True):
        late = (behind.start - made.beats[int(joint.right)]) - (before.end - made.beats[int(joint.left)])
        assert abs(late) < 0.005
        assert 0.015 < abs(joint.moved_left) < 0.025 and 0.015 < abs(joint.moved_right) < 0.025


def test_a_step_of_tempo_and_another_key_are_told():
    music = compose()
    eights = len(music.counts.eights)
    at = 8 * (eights - 8) - 4
    _, (joint,) = join(music.sound, music.counts, [KeptSpan(0, 16), KeptSpan(at, at + 16)])
    assert joint.tempo_step == pytest.approx(138 / 112 - 1, abs=0.02)
    _, (same,) = join(music.sound, music.counts, [KeptSpan(0, 16), KeptSpan(32, 40)])
    assert abs(same.tempo_step) < 0.01 and same.keys is None


def test_where_nothing_is_struck_an_even_course_of_counts_decides():
    rate_hz = 8000
    times = 0.5 * np.arange(18) + 0.5
    wrong = times + np.where(np.arange(18) == 9, 0.03, 0.0)
    found = find_attack(Sound(np.zeros((10 * rate_hz, 1)), rate_hz), wrong.tolist(), 9)
    assert not found.heard and found.time == pytest.approx(times[9], abs=0.01)


def test_a_piece_that_is_next_to_nothing_is_refused(wrong):
    made, counts = wrong
    with pytest.raises(CoachError, match="piece_short"):
        join(made.sound, CountMap(counts.beats[:40]), [KeptSpan(8, 8.5)])


def test_nothing_clicks_at_a_joint():
    """Tones alone, cut anywhere: the largest step is no larger than the music's own."""
    music = compose()
    rng = np.random.default_rng(1)
    quiet = render_small_tones(music)
    for _ in range(20):
        a, b = sorted(rng.uniform(2, 30, 2))
        cut = CutList((CutPiece(a - 1, a), CutPiece(b, b + 1)))
        made = render(quiet, cut)
        at = round(cut.starts[1] * made.rate_hz)
        near = np.abs(np.diff(made.samples[at - 1200 : at + 1200], axis=0)).max()
        assert near <= np.abs(np.diff(quiet.samples, axis=0)).max()


def render_small_tones(music):
    from tests.benchmarks.beat_set.played import Played

    beats = music.counts.beats[:70]
    notes = [(float(t), float(t) + 0.5, 57 + k % 7, 90, 0) for k, t in enumerate(beats)]
    return render_small(Played(notes, {}, beats, np.zeros(0), []))

"""Maps of music whose sections and accents are known, and of music that nothing was tuned on."""

import numpy as np
import pytest

from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.music.counts.music_map import map_music, nearest_accent
from tempo_coach.music.files.sound import Sound
from tests.benchmarks.beat_set.played import DRUMS, Played
from tests.generators.workplace import invented_music
from tests.music.small_synth import render_small

TUNE = (12, 15, 19, 15, 17, 15, 12, 10)


def compose(form, accents=()):
    """A: soft, a tune over a bass; B: loud, with drums. An accent is a chord and a drum at full force."""
    rng = np.random.default_rng(3)
    step = 0.5
    beats = 0.5 + step * np.arange(8 * len(form))
    notes = []
    for k, time in enumerate(beats.tolist()):
        loud = form[k // 8] == "B"
        velocity = int((100 if loud else 50) + rng.integers(-5, 6))
        if k in accents:
            notes += [(time, time + 0.2, 36, 127, DRUMS)]
            notes += [(time, time + step, 48 + each, 127, 0) for each in (0, 4, 7, 12)]
        notes.append((time, time + step, 45 + (0, 8, 3, 10)[k // 4 % 4], velocity, 0))
        notes.append((time, time + step, 57 + TUNE[k % 8], velocity, 1))
        if loud:
            notes += [(time + half, time + half + 0.1, 42, 80, DRUMS) for half in (0.0, step / 2)]
            notes.append((time, time + 0.2, 36 if k % 2 == 0 else 38, 90, DRUMS))
    sound = render_small(Played(sorted(notes), {}, beats, np.zeros(0), []))
    return sound, CountMap(beats, tuple((8 * k, 8) for k in range(len(form))))


@pytest.mark.parametrize(("form", "accents"), [("AABBBBAA", {21, 60}), ("BBBAAAABB", {10, 30}), ("AAAAAA", {13})])
def test_sections_and_accents_are_where_they_are(form, accents):
    sound, counts = compose(form, accents)
    rows = map_music(sound, counts)
    found = "".join(row.section for row in rows)
    assert found == form.translate({ord(form[0]): "A", ord("B" if form[0] == "A" else "A"): "B"})
    assert [row.begins for row in rows] == [k == 0 or form[k] != form[k - 1] for k in range(len(form))]
    assert {each.at for row in rows for each in row.accents} == accents
    for k, row in enumerate(rows):
        if row.begins and k:
            assert ("louder" if form[k] == "B" else "softer") in row.changes
            assert ("denser" if form[k] == "B" else "sparser") in row.changes


def test_music_that_stays_the_same_is_one_section():
    """The demo's music: one texture from its second eight on, by another generator."""
    made = invented_music()
    rows = map_music(made.sound, CountMap(made.beats))
    assert {row.section for row in rows} == {"A"} and sum(len(row.accents) for row in rows) <= 1
    assert all(1.5 < row.dense < 2.5 for row in rows[:-1])


def test_the_nearest_accent_is_the_strongest_in_reach():
    sound, counts = compose("AA", {5})
    rows = map_music(sound, counts)
    assert nearest_accent(rows, 3.0, within=2).at == 5.0
    assert nearest_accent(rows, 0.0, within=2) is None
    assert map_music(Sound(np.zeros((8000, 1)), 8000), CountMap([5.0, 6.0])) == ()

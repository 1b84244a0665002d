"""Clicks on counts through the audio process, as another program records them."""

from __future__ import annotations

import time
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.coach.counting.listening import Listening
from tempo_coach.live.audio.engine import Engine
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.music.files.sound import Sound

if TYPE_CHECKING:
    from tests.live.sound_server import SoundServer

RATE_HZ = 48_000
#: Uneven on purpose: what is heard has to follow every count.
BEATS = 0.3 + np.concatenate([[0.0], np.cumsum([0.5, 0.45, 0.6, 0.55, 0.5, 0.7, 0.5])])
START = 1.0


def test_clicks_are_heard_on_the_counts_from_where_listening_begins(sound_server: SoundServer) -> None:
    engine = Engine()
    listening = Listening(Sound(np.zeros((5 * RATE_HZ, 1)), RATE_HZ), lambda: engine)
    places = []
    with sound_server.recording() as recording:
        listening.begin(CountMap(BEATS), START)
        give_up = time.monotonic() + 20
        while listening.on and time.monotonic() < give_up:
            assert listening.tick() is None
            if listening.heard is not None:
                places.append(listening.heard)
            time.sleep(0.05)
        recording.wait_for_frames(recording.frames() + RATE_HZ // 4)
        heard = recording.samples()
    gaps = engine.gaps
    listening.close()
    assert not listening.on
    assert places[0] == START and places == sorted(places)
    assert max(places) > BEATS[-1]

    loud = np.abs(heard).max(axis=1) > 1e-3
    onsets = np.flatnonzero(loud)
    onsets = onsets[np.concatenate([[True], np.diff(onsets) > RATE_HZ // 5])]
    expected = BEATS[BEATS >= START]
    assert onsets.size == expected.size
    # where the machine lost sound, the player says so, and there alone an interval may be another one
    whole = [
        not any(gap.start < after - START and gap.end > before - START for gap in gaps)
        for before, after in pairwise(expected)
    ]
    np.testing.assert_allclose(np.diff(onsets)[whole] / RATE_HZ, np.diff(expected)[whole], atol=0.002)

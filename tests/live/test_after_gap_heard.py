"""A take that lost sound and was tapped, without a microphone: afterwards cues lie on the music, and taps where heard.

The music is noise, by a few milliseconds of which any place of it is known to the sample in what a recorder that is
not ours has heard.
"""

from __future__ import annotations

import os
import signal
import time
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.live.audio.engine import Engine
from tempo_coach.live.mixing.mix import load_cue_sounds, mix
from tempo_coach.live.practice.session import Stage
from tempo_coach.music.files.sound import Sound
from tests.benchmarks.bench_live import Arrivals
from tests.live.test_failures import Practice
from tests.ui import fakes

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from tests.live.sound_server import SoundServer

RATE_HZ = 48_000
PLAN = fakes.lay("clubs_mills", tempo_bpm=120, cycles=5)
#: Frames by which a place is known, and frames between two places.
KNOWN, STEP = 64, 960
#: Seconds for which the audio process is held, and how far from a gap its silence may lie.
HELD, NEAR = 0.3, 0.1


@pytest.fixture
def engine(tmp_path: Path) -> Iterator[Engine]:
    engine = Engine(folder=tmp_path)
    yield engine
    engine.close()


def find_places(heard: np.ndarray, mixed: np.ndarray) -> np.ndarray:
    """Places in what was played of blocks of what was heard, sample for sample: pairs of frames."""
    first = {mixed[k : k + KNOWN].tobytes(): k for k in range(len(mixed) - KNOWN) if mixed[k : k + KNOWN].any()}
    asked = range(0, len(heard) - KNOWN, STEP)
    return np.array([(k, first[block]) for k in asked if (block := heard[k : k + KNOWN].tobytes()) in first])


def test_after_a_gap_cues_lie_on_the_music_and_taps_lie_where_they_were_heard(
    sound_server: SoundServer, engine: Engine, tmp_path: Path
) -> None:
    noise = np.random.default_rng(3).normal(0, 0.02, (round(PLAN.duration * RATE_HZ), 2)).astype(np.float32)
    sound = mix(PLAN, Sound(noise, RATE_HZ), load_cue_sounds(RATE_HZ), rate_hz=RATE_HZ)
    with sound_server.recording() as recording, Arrivals(recording.path) as arrivals:
        arrivals.forget()
        practice = Practice(engine, tmp_path, plan=PLAN, sound=sound)
        practice.until(lambda: practice.stage is Stage.PLAYING and practice.position > 0.3)
        stamps: list[float] = []

        def tap_until(seconds: float) -> None:
            while practice.stage is Stage.PLAYING and practice.position < seconds:
                stamps.append(time.perf_counter())
                practice.conductor.press("jf"[len(stamps) % 2], stamps[-1])
                end = time.monotonic() + 0.13
                practice.until(lambda end=end: time.monotonic() > end)

        tap_until(PLAN.duration / 2)
        assert engine.pid is not None
        os.kill(engine.pid, signal.SIGSTOP)
        time.sleep(HELD)
        os.kill(engine.pid, signal.SIGCONT)
        tap_until(np.inf)
        practice.until(lambda: practice.stage in (Stage.AFTER, Stage.PAUSED))
        if practice.stage is Stage.PAUSED:
            pytest.skip("the machine lost the sound altogether")
        practice.conductor.leave()
        line = arrivals.line()
        heard = recording.samples().astype(np.float32)
    (done,) = practice.conductor.takes.done
    at, place = find_places(heard, sound.samples.astype(np.float32)).T
    breaks = np.flatnonzero(np.diff(place) != np.diff(at))
    assert breaks.size, "holding the process was meant to lose sound"
    gaps = np.array(done.take.unmeasurable)
    for k in breaks:
        lost = place[[k, k + 1]] / RATE_HZ
        assert any(a - NEAR <= lost[0] and lost[1] <= b + NEAR for a, b in gaps), (
            "a loss is heard that is not in the take"
        )
    # on both sides what is heard is what was mixed, cues and all, sample for sample
    for start, end in zip([0, *breaks + 1], [*breaks, at.size - 1], strict=True):
        frames = at[end] - at[start]
        piece = sound.samples[place[start] : place[start] + frames].astype(np.float32)
        assert np.array_equal(heard[at[start] : at[end]], piece), "cues lie on the music to the sample"
    # nothing of the gap is judged, and what was tapped lies on what was heard on both sides of it
    times = np.array([engine.take_time(stamp) for stamp in stamps])
    ok = np.array([engine.measurable(each) for each in times])
    frames = line.to_second(np.array(stamps))
    true = np.array([place[k := int(np.argmin(np.abs(at - frame)))] + frame - at[k] for frame in frames]) / RATE_HZ
    off = (times - true)[ok & (true < sound.duration)]
    before = true[ok & (true < sound.duration)] < gaps[:, 0].min()
    assert before.sum() >= 5 and (~before).sum() >= 5
    assert abs(np.median(off[before]) - np.median(off[~before])) < 0.01
    judged = done.take.onsets.time[np.isfinite(done.take.onsets.time)]
    moments = PLAN.moments.time
    inside = np.array([any(a <= each < b for a, b in gaps) for each in moments])
    assert np.isnan(done.card.asynchrony[inside]).all() and judged.size

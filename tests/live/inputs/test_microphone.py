"""What a microphone took, put on the take clock: by invented rooms, and through the monitor of a real server."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tempo_coach.live.audio.engine import Engine
from tempo_coach.live.audio.playback import News, NewsKind, State
from tempo_coach.live.inputs.microphone import LONGEST_LOOP, STRETCH, Recorded, align, find_loop, lay_on_take
from tempo_coach.live.mixing.mix import load_cue_sounds
from tempo_coach.live.notices import Code, Notice

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.live.sound_server import SoundServer

RATE = 48_000


def cues(seconds: float = 4.0) -> np.ndarray:
    """The program's own cue every half second."""
    wave = load_cue_sounds(RATE)["first_hand"].samples[:, 0]
    samples = np.zeros(round(seconds * RATE), np.float32)
    for at in range(RATE // 4, len(samples) - len(wave), RATE // 2):
        samples[at : at + len(wave)] += wave
    return samples


def recorded(played: np.ndarray, loop: int, *, first_frame: int = -24_000, noise: float = 0.0) -> Recorded:
    """A microphone that hears what was played so many samples later."""
    n = len(played) + 2 * RATE
    heard = np.random.default_rng(7).normal(0, noise, n) if noise else np.zeros(n)
    first = loop - first_frame
    heard[max(first, 0) : first + len(played)] += played[max(-first, 0) :]
    return Recorded(heard.astype(np.float32), RATE, first_frame)


@given(st.integers(0, round(LONGEST_LOOP * RATE) - 10))
@settings(max_examples=15)
def test_the_loop_is_found_to_the_sample(loop: int) -> None:
    played = cues(2.0)
    assert find_loop(recorded(played, loop), played) == pytest.approx(loop / RATE, abs=0.2 / RATE)


@pytest.mark.parametrize("kind", ["cues", "music"])
def test_noise_as_loud_as_what_is_played_moves_the_loop_by_less_than_a_fifth_of_a_millisecond(kind: str) -> None:
    music = np.random.default_rng(3).normal(0, 0.1, 3 * RATE) * np.hanning(3 * RATE)
    played = cues(3.0) if kind == "cues" else music.astype(np.float32)
    loud = float(np.sqrt(np.mean(played**2)))
    assert find_loop(recorded(played, 5123, noise=loud), played) == pytest.approx(5123 / RATE, abs=0.0002)


def test_an_echo_that_is_louder_than_the_direct_way_is_not_taken_for_it() -> None:
    played = cues()
    direct, echo = recorded(played, 4000), recorded(played, 4000 + 720)
    both = Recorded(0.8 * direct.samples + 1.0 * echo.samples, RATE, direct.first_frame)
    assert find_loop(both, played) == pytest.approx(4000 / RATE, abs=0.0001)


@pytest.mark.parametrize("noise", [0.0, 0.1])
def test_where_nothing_that_was_played_can_be_heard_there_is_no_loop(noise: float) -> None:
    played = cues()
    other = recorded(np.zeros_like(played), 4000, noise=noise)
    assert find_loop(other, played) is None
    assert find_loop(recorded(played, 4000), np.zeros_like(played)) is None


def test_a_recording_of_two_openings_lies_where_each_was_heard() -> None:
    played = cues()
    first = recorded(played, 4000)
    first = Recorded(first.samples[: 24_000 + 48_000], RATE, first.first_frame)
    second = recorded(played, 6100, first_frame=60_000)
    whole = lay_on_take((first, second), [4000 / RATE, 6100 / RATE], frames=len(played))
    heard = np.ones(len(played), bool)
    heard[48_000 - 4000 : 60_000 - 6100] = False
    np.testing.assert_array_equal(whole[heard], played[heard])
    assert not whole[~heard].any()


def forwarded(played: np.ndarray, delay: Callable[[np.ndarray], np.ndarray], *, noise: float = 0.0) -> Recorded:
    """What a recorder hears behind a forwarder that has each sample wait for another time: seconds by take time."""
    at = np.arange(-24_000, len(played) + RATE) / RATE
    heard = np.interp(at - delay(at), np.arange(len(played)) / RATE, played, left=0.0, right=0.0)
    heard += np.random.default_rng(5).normal(0, noise, heard.size)
    return Recorded(heard.astype(np.float32), RATE, -24_000)


@pytest.mark.parametrize("by", [0.08, -0.05, 0.006])
def test_a_wireless_delay_that_changes_in_mid_take_is_found_and_taken_out(by: float) -> None:
    played = cues(32.0)
    loud = float(np.sqrt(np.mean(played**2)))
    piece = forwarded(played, lambda at: 0.2 + by * (at > 17.3), noise=loud / 2)
    laid, known, changes = align((piece,), played, otherwise=0.0)
    assert known and len(changes) == 1
    assert changes[0].by == pytest.approx(by, abs=0.0003)
    assert changes[0].start <= 17.3 <= changes[0].end < changes[0].start + 2.5 * STRETCH
    for start, end in ((1.0, changes[0].start), (changes[0].end, 31.0)):
        part = slice(round(start * RATE), round(end * RATE))
        lag = find_loop(Recorded(laid[part], RATE, part.start), played)
        assert lag == pytest.approx(0.0, abs=0.0003)


def test_a_device_that_changes_its_rate_is_found() -> None:
    played = cues(40.0)
    piece = forwarded(played, lambda at: 0.1 + 500e-6 * np.maximum(at - 12.0, 0.0))
    laid, known, changes = align((piece,), played, otherwise=0.0)
    assert known and len(changes) >= 3 and min(each.start for each in changes) < 20.0
    assert sum(each.by for each in changes) == pytest.approx(0.013, abs=0.003)
    for start in (2, 20, 30, 35):
        part = Recorded(laid[start * RATE : (start + 3) * RATE], RATE, start * RATE + RATE // 10)
        lag = find_loop(part, played, near=0.1)
        assert lag is not None and abs(lag - 0.1) < 0.003, "what was 14 ms off at the end is put right"


@pytest.mark.parametrize("rate", [44.1 / 48, 48 / 44.1])
@pytest.mark.parametrize("since", [12.0, 0.0])
def test_a_loudspeaker_that_plays_at_another_rate_is_found_and_since_when(rate: float, since: float) -> None:
    played = cues(32.0)
    loud = float(np.sqrt(np.mean(played**2)))
    piece = forwarded(played, lambda at: 0.1 + (1 - rate) * np.maximum(at - since, 0.0), noise=loud / 2)
    _, known, (found,) = align((piece,), played, otherwise=0.0)
    assert found.rate == pytest.approx(rate) and known is (since > 0)
    assert since - STRETCH - 1 <= found.start <= since and found.end > 25


def test_claps_at_a_tempo_of_their_own_are_no_cues_at_another_rate() -> None:
    """With headphones nothing that is played is heard, and she may clap as much slower as 44.1 kHz are than 48."""
    played, clap = cues(32.0), np.random.default_rng(2).normal(0, 0.3, 480).astype(np.float32)
    heard = np.random.default_rng(1).normal(0, 0.001, len(played)).astype(np.float32)
    for at in np.arange(RATE // 4, len(heard) - len(clap), RATE / 2 * 48 / 44.1).astype(int):
        heard[at : at + len(clap)] += clap
    assert align((Recorded(heard, RATE, 0),), played, otherwise=0.0)[1:] == (False, [])


@pytest.mark.parametrize("noise", [0.0, 0.5, 1.0])
def test_a_delay_that_stays_is_not_told_as_changed(noise: float) -> None:
    played = cues(32.0)
    loud = float(np.sqrt(np.mean(played**2)))
    piece = forwarded(played, lambda at: np.full(at.size, 0.2), noise=noise * loud)
    assert align((piece,), played, otherwise=0.0)[1:] == (True, [])


def test_nothing_recorded_is_silence() -> None:
    assert not lay_on_take((), [], frames=10).any()
    assert find_loop(Recorded(np.zeros(0, np.float32), RATE, 0), cues()) is None


def play_out(engine: Engine, samples: np.ndarray) -> list[News]:
    engine.start(samples, RATE)
    news: list[News] = []
    give_up = time.monotonic() + 40
    while engine.state not in (State.FINISHED, State.PAUSED):
        assert time.monotonic() < give_up, (engine.state, engine.notice, news)
        news += engine.poll()
        time.sleep(0.02)
    # what was played last is on its way through the loop
    until = time.monotonic() + 0.4
    while time.monotonic() < until:
        news += engine.poll()
        time.sleep(0.02)
    engine.stop()
    return news


def test_what_is_played_comes_back_where_it_was_played(sound_server: SoundServer, tmp_path: Path) -> None:
    played = cues(2.0)
    for _ in range(4):  # a busy machine may lose sound, which is said and is no matter of this test
        engine = Engine(folder=tmp_path, microphone="")
        with sound_server.recording():  # keeps the null sink fetching as a real device does
            news = play_out(engine, played)
        finished = any(each.kind is NewsKind.FINISHED for each in news)
        pieces = engine.recorded
        whole = finished and not engine.gaps and not pieces[0].overruns and engine.latency_known
        engine.close()
        if whole:
            break
    else:
        pytest.skip("the machine lost sound four times")
    loop = find_loop(pieces[0], played)
    assert loop is not None and loop > 0
    back = lay_on_take(pieces, [loop], frames=len(played))
    # the server puts two equal channels into one: what is left is its rounding
    np.testing.assert_allclose(back, played, atol=2e-4)
    assert list(tmp_path.iterdir()) == []


def test_without_a_microphone_the_take_goes_on_and_says_so(sound_server: SoundServer, tmp_path: Path) -> None:
    engine = Engine(folder=tmp_path, microphone="no such microphone")
    with sound_server.recording():
        news = play_out(engine, cues(1.0))
    noted = [each.notice for each in news if each.kind is NewsKind.NOTED]
    assert noted[0] == Notice(Code.NO_MICROPHONE) and set(noted[1:]) <= {Notice(Code.LATENCY_UNKNOWN)}
    assert engine.recorded == ()
    engine.close()

"""Measurements of a calibration with an invented device, keyboard and room whose delays are known."""

from __future__ import annotations

from contextlib import contextmanager
from types import SimpleNamespace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.errors import CoachError
from tempo_coach.live.audio.playback import State
from tempo_coach.live.inputs.microphone import Recorded
from tempo_coach.live.mixing.mix import RATE_HZ
from tempo_coach.live.notices import Code, Notice, SoundFailed, Trouble
from tempo_coach.live.setup import measuring
from tempo_coach.live.setup.measuring import CLICK_STEP, measure_loop, measure_strokes, measure_taps
from tempo_coach.report.words.errors import hint_of, message_of
from tests.refused import refused

if TYPE_CHECKING:
    from collections.abc import Iterator


class Room:
    """A device that has played everything at once; its microphone hears that, and knocks, so much later."""

    name = "Gerät 🤸"
    notice = Notice(Trouble.LOST)

    def __init__(self, loop: float = 0.05, *, states: tuple[State, ...] = (), heard: bool = True) -> None:
        self.loop, self.heard, self.states = loop, heard, list(states)
        self.recorded: tuple[Recorded, ...] = ()
        self.knocks: list[float] = []
        self.news: list[SimpleNamespace] = []
        self.closed = self.stopped = False
        self.duration, self.state = 1.0, State.IDLE

    def start(self, samples: np.ndarray, rate_hz: int) -> None:
        self.played = samples
        self.duration = len(samples) / rate_hz
        wave = np.zeros(len(samples) + rate_hz, np.float32)
        late = round(self.loop * rate_hz)
        wave[late : late + len(samples)] = samples
        for knock in self.knocks:
            at = round((knock + self.loop) * rate_hz)
            wave[at : at + 200] = 0.5 * np.linspace(1, 0, 200) * (-1.0) ** np.arange(200)
        self.recorded = (Recorded(wave, rate_hz, 0),) if self.heard else ()

    def poll(self) -> list[SimpleNamespace]:
        self.state = self.states.pop(0) if self.states else State.FINISHED
        return self.news

    def position(self) -> float:
        return {State.OPENING: -0.2, State.PLAYING: self.duration / 2}.get(self.state, 2 * self.duration)

    def take_time(self, stamp: float) -> float:
        return stamp - 1000.0

    latency_known = True

    def measurable(self, time: float) -> bool:
        return not 3.0 < time < 3.1

    def stop(self) -> None:
        self.stopped = True

    def close(self) -> None:
        self.closed = True


@pytest.fixture(autouse=True)
def at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is waited for."""
    monkeypatch.setattr(measuring, "RING_OUT", 0.0)
    monkeypatch.setattr(measuring, "_LOOK_EVERY", 0.0)
    monkeypatch.setattr(measuring.time, "sleep", lambda _: None)


@pytest.fixture
def keyboard(monkeypatch: pytest.MonkeyPatch):
    """Keys whose stamps are given; the clock that stamps them is the one that is asked."""
    given = SimpleNamespace(pieces=[], ended=False, there=True)

    def wait(_: float) -> list[tuple[float, bytes]] | None:
        pieces, given.pieces = given.pieces, []
        return pieces

    reader = SimpleNamespace(wait=wait, end=lambda: setattr(given, "ended", True))
    monkeypatch.setattr(measuring.KeyReader, "start", classmethod(lambda *_: reader if given.there else None))

    @contextmanager
    def raw(_: int) -> Iterator[None]:
        yield

    monkeypatch.setattr(measuring, "raw_keys", raw)
    monkeypatch.setattr(measuring, "perf_counter", lambda: 577.0)
    monkeypatch.setattr(measuring, "monotonic", lambda: 77.0)
    return given


def press(keyboard: SimpleNamespace, times: np.ndarray, data: bytes = b"j") -> None:
    """Keys at take times: stamped on a clock that is 500 s behind ``perf_counter``, whose 1000 is take time 0."""
    keyboard.pieces = [(1000.0 - 500.0 + time, data) for time in times.tolist()]


def test_the_loop_is_measured_with_the_device_opened_anew_each_time() -> None:
    rooms: list[Room] = []

    def open_one() -> Room:
        rooms.append(Room(0.05 + 0.01 * len(rooms), states=(State.OPENING, State.PLAYING)))
        return rooms[-1]

    shares: list[float] = []
    name, loop = measure_loop(open_one, openings=3, progress=shares.append)  # type: ignore[arg-type]  # a room is enough
    assert name == "Gerät 🤸"
    assert loop.openings == pytest.approx((0.05, 0.06, 0.07), abs=1e-5)
    assert [room.closed and room.stopped for room in rooms] == [True] * 3
    assert shares == pytest.approx([0, 1 / 6, 1 / 3, 1 / 3, 1 / 2, 2 / 3, 2 / 3, 5 / 6, 1])


@pytest.mark.parametrize(
    ("room", "message", "hint"),
    [
        (Room(heard=False), "the microphone took nothing", "tempo-coach doctor names the devices there are"),
    ],
)
def test_what_goes_wrong_is_said_and_the_device_let_go(room: Room, message: str, hint: str | None) -> None:
    with pytest.raises(CoachError) as caught:
        measure_loop(lambda: room, openings=1, progress=lambda _: None)  # type: ignore[arg-type,return-value]  # a room
    assert (message_of(caught.value), hint_of(caught.value)) == (message, hint)
    assert room.closed


def test_sound_that_goes_away_is_told_as_what_the_engine_says() -> None:
    room = Room(states=(State.PAUSED,))
    with pytest.raises(SoundFailed) as failed:
        measure_loop(lambda: room, openings=1, progress=lambda _: None)  # type: ignore[arg-type,return-value]  # a room
    assert failed.value.notice == Notice(Trouble.LOST) and room.closed


@pytest.mark.parametrize("stalled", [1, 2, 3])
def test_an_opening_in_which_the_sound_stood_still_is_tried_again_twice(stalled: int) -> None:
    rooms = [Room(states=(State.PAUSED,)) for _ in range(stalled)] + [Room(0.05)]
    for room in rooms[:-1]:
        room.notice = Notice(Trouble.FROZEN)
    waiting = iter(rooms)

    def measure() -> float:
        return measure_loop(lambda: next(waiting), openings=1, progress=lambda _: None)[1].delay  # type: ignore[arg-type,return-value]  # a room

    if stalled <= 2:
        assert measure() == pytest.approx(0.05, abs=1e-5)
    else:
        with pytest.raises(SoundFailed):
            measure()
    assert all(room.closed for room in rooms[:3])


def test_a_microphone_that_cannot_be_opened_and_a_device_that_never_begins_are_said(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    deaf = Room()
    deaf.news = [SimpleNamespace(notice=Notice(Code.NO_MICROPHONE))]
    with refused("the microphone cannot be opened; tempo-coach doctor"):
        measure_loop(lambda: deaf, openings=1, progress=lambda _: None)  # type: ignore[arg-type,return-value]  # a room
    monkeypatch.setattr(measuring, "PATIENCE", -1.0)
    with refused("the device does not begin to play"):
        measure_loop(lambda: Room(states=(State.OPENING,)), openings=1, progress=lambda _: None)  # type: ignore[arg-type,return-value]  # a room


def test_nothing_is_measured_through_a_device_that_contradicts_itself(keyboard: SimpleNamespace) -> None:
    press(keyboard, CLICK_STEP * (1 + np.arange(24)))
    room = Room()
    room.latency_known = False
    with pytest.raises(SoundFailed) as failed:
        measure_taps(room, 0, clicks=24, progress=lambda _: None)  # type: ignore[arg-type]  # a room is enough
    assert failed.value.notice == Notice(Code.LATENCY_UNKNOWN)


def test_taps_to_clicks_tell_how_late_they_were(keyboard: SimpleNamespace) -> None:
    clicks = CLICK_STEP * (1 + np.arange(24))
    taps = clicks + 0.04
    press(keyboard, np.sort(np.append(taps, taps[5] + 0.01)))  # a key that bounces counts once
    keyboard.pieces += [(500.0 + 9.9, b"\r"), (500.0 + 9.95, "ä".encode())]
    room = Room()
    found = measure_taps(room, 0, clicks=24, progress=lambda _: None)  # type: ignore[arg-type]  # a room is enough
    assert found.tapped.mean == pytest.approx(0.04, abs=1e-6)
    assert keyboard.ended
    assert len(room.played) == round((clicks[-1] + 2 * CLICK_STEP) * RATE_HZ)
    for click in clicks:
        at = round(click * RATE_HZ)
        assert np.abs(room.played[at - 2000 : at - 1]).max() == 0 < np.abs(room.played[at : at + 500]).max()


def test_strokes_that_the_microphone_hears_tell_how_late_their_stamps_are(keyboard: SimpleNamespace) -> None:
    room = Room(0.05)
    room.knocks = [5.0 + k for k in range(14)]
    press(keyboard, np.append([0.5, 1.0], np.array(room.knocks) + 0.03))  # keys during the chirps do not count
    found = measure_strokes(room, 0, progress=lambda _: None)  # type: ignore[arg-type]  # a room is enough
    assert (found.n, found.mean) == (14, pytest.approx(0.03, abs=0.0005))


def test_without_chirps_without_a_reader_and_without_a_terminal_nothing_is_measured(
    keyboard: SimpleNamespace, monkeypatch: pytest.MonkeyPatch
) -> None:
    silent = Room()
    monkeypatch.setattr(silent, "loop", 0.05)
    monkeypatch.setattr(measuring, "_loops", lambda *_: np.array([]))
    with refused("the chirps were not heard by the microphone; turn the loudspeaker up"):
        measure_strokes(silent, 0, progress=lambda _: None)  # type: ignore[arg-type]  # a room is enough
    monkeypatch.setattr(
        measuring.KeyReader, "start", classmethod(lambda *_: SimpleNamespace(wait=lambda _: None, end=bool))
    )
    with refused("the terminal went away"):
        measure_taps(Room(), 0, clicks=20, progress=lambda _: None)  # type: ignore[arg-type]  # a room is enough
    monkeypatch.setattr(measuring.KeyReader, "start", classmethod(lambda *_: None))
    with refused("the process that stamps keys cannot be started"):
        measure_taps(Room(), 0, clicks=20, progress=lambda _: None)  # type: ignore[arg-type]  # a room is enough


def test_keys_where_nothing_can_be_measured_are_left_out(keyboard: SimpleNamespace) -> None:
    found = measuring._times(Room(), [1003.05, 1002.0, 1001.0])  # type: ignore[arg-type]  # a room is enough
    assert found.tolist() == [1.0, 2.0]
    assert measuring._times(Room(), []).size == 0  # type: ignore[arg-type]  # a room is enough

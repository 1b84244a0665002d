"""Measurements for a calibration: they open devices and terminals for ``delays`` and ``chirps``."""

from __future__ import annotations

import math
import os
import time
from time import monotonic, perf_counter
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.live.audio.playback import State
from tempo_coach.live.inputs.key_stamps import KeyReader, raw_keys, steady_interpreter
from tempo_coach.live.inputs.microphone import lay_on_take
from tempo_coach.live.mixing.mix import RATE_HZ, load_cue_sounds
from tempo_coach.live.notices import Code, Notice, SoundFailed, Trouble
from tempo_coach.live.setup.chirps import LoopDelay, find_chirp_loops, join_loops, make_chirps
from tempo_coach.live.setup.delays import Delay, TapDelay, find_mean, find_stroke_delay, find_tap_delay
from tempo_coach.live.setup.knocks import measure_phone_delays
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.observe.take.key_repeats import find_repeats
from tempo_coach.pattern.plan.every_count import lay_every_count

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from tempo_coach.live.audio.engine import Engine
    from tempo_coach.live.phones.link import Phones
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.times import Floats

#: Keys of the self-test, and the shortest and longest wait between two (s).
STAMPS, STAMP_WAITS = 150, (0.005, 0.035)
#: Seconds between two clicks: neither hurried nor slow to anybody (common practice in tapping studies).
CLICK_STEP = 0.6
#: Seconds in which strokes are listened for.
STROKES_FOR = 20.0
#: Openings in whose midst the sound may stand still before a measurement of the loop is given up.
MOST_STALLED = 2
#: Seconds that a loop's end is waited for after the last sample.
RING_OUT = 0.6
#: Seconds in which knocks are listened for, and rows of phones waited for afterwards.
KNOCKS_FOR, ROWS_FOR = 25.0, 3.0
#: Seconds in which a device has to begin to play.
PATIENCE = 15.0
_LOOK_EVERY = 0.02


def measure_stamps() -> Delay:
    """Measure the latency of key stamps on this computer, with key presses through a pseudo-terminal.

    Raises
    ------
    CoachError
        If the system has no pseudo-terminals, or no reader can be had.
    """
    try:
        import pty
        import tty
    except ImportError as error:
        raise CoachError("stamps.untestable") from error
    outer, inner = pty.openpty()
    try:
        tty.setraw(inner)
        reader = KeyReader.start(inner)
        if reader is None:
            raise CoachError("stamps.not_started")
        try:
            pressed, stamped = _press(outer, reader)
        finally:
            reader.end()
    finally:
        os.close(outer)
        os.close(inner)
    return find_mean(np.array(stamped) - np.array(pressed))


def _press(outer: int, reader: KeyReader) -> tuple[list[float], list[float]]:
    os.write(outer, b"x")  # the reader answers once it has started
    if not reader.wait(PATIENCE):
        raise CoachError("stamps.no_answer")
    waits = np.random.default_rng(1).uniform(*STAMP_WAITS, STAMPS)
    pressed: list[float] = []
    stamped: list[float] = []
    with steady_interpreter():
        for wait in waits:
            time.sleep(float(wait))
            pressed.append(monotonic())
            os.write(outer, b"j")
            pieces = reader.wait(PATIENCE)
            if not pieces:
                raise CoachError("stamps.key_lost")
            stamped.append(pieces[0][0])
    return pressed, stamped


def measure_loop(
    open_sound: Callable[[], Engine], *, openings: int, progress: Callable[[float], None]
) -> tuple[str, LoopDelay]:
    """Measure the loop delay of loudspeaker and microphone by chirps, reopening the device each time.

    Parameters
    ----------
    open_sound : callable
        Returns an engine that records.
    openings : int
    progress : callable
        Told the share that is done.

    Returns
    -------
    name : str
        Of the device.
    loop : LoopDelay

    Raises
    ------
    CoachError
        If there is no microphone, or nothing is heard.
    SoundFailed
        If there is no sound.
    """
    samples, starts = make_chirps(RATE_HZ)
    found: list[Floats] = []
    name = ""
    stalled = 0
    while len(found) < openings:
        engine = open_sound()
        try:
            for share in _play(engine, samples):
                progress((len(found) + share) / openings)
            found.append(_loops(engine, samples, starts))
            name = engine.name
        except SoundFailed as failed:  # on a busy machine sound can stand still for a while: once more
            stalled += 1
            if failed.notice.code is not Trouble.FROZEN or stalled > MOST_STALLED:
                raise
        finally:
            engine.close()
    return name, join_loops(found)


def _loops(engine: Engine, samples: np.ndarray, starts: Floats) -> Floats:
    if not engine.recorded:
        raise CoachError("microphone.silent")
    return find_chirp_loops(engine.recorded[0], samples, starts)


def measure_taps(engine: Engine, terminal: int, *, clicks: int, progress: Callable[[float], None]) -> TapDelay:
    """Play clicks and stamp the keys pressed to them.

    Parameters
    ----------
    engine : Engine
    terminal : int
        Descriptor of the terminal whose keys are read.
    clicks : int
    progress : callable
        Told the share that is done.

    Raises
    ------
    CoachError
        If too few clicks are answered.
    SoundFailed
        If there is no sound.
    """
    click = load_cue_sounds(RATE_HZ)["count"].samples.mean(axis=1)
    times = CLICK_STEP * (1 + np.arange(clicks))
    samples = np.zeros(round((times[-1] + 2 * CLICK_STEP) * RATE_HZ), np.float32)
    for at in np.round(times * RATE_HZ).astype(int):
        samples[at : at + click.size] += click
    stamps = _stamp_while_playing(engine, samples, terminal, progress)
    return find_tap_delay(_times(engine, stamps), times)


def measure_strokes(engine: Engine, terminal: int, *, progress: Callable[[float], None]) -> Delay:
    """Measure the loop delay by chirps, then stamp key strokes that the microphone records in the silence after.

    Raises
    ------
    CoachError
        If there is no microphone, or too few strokes are heard.
    SoundFailed
        If there is no sound.
    """
    samples, starts = make_chirps(RATE_HZ, number=3, silence=STROKES_FOR)
    stamps = _stamp_while_playing(engine, samples, terminal, progress)
    loops = _loops(engine, samples, starts)
    if loops.size == 0:
        raise CoachError("chirps.too_quiet")
    heard = lay_on_take(engine.recorded[:1], [float(np.median(loops))], frames=len(samples))
    times = _times(engine, stamps)
    quiet = float(starts[-1]) + 2 * RING_OUT
    return find_stroke_delay(times[times > quiet], heard, RATE_HZ)


def plan_of_knocks(seconds: float = KNOCKS_FOR) -> Plan:
    """Return a plan with one hand for all phones, for recording what they feel meanwhile."""
    return lay_every_count(CountMap.steady(60), end=math.ceil(seconds) + 60, tempo_bpm=60)


def measure_phones(
    engine: Engine, phones: Phones, *, progress: Callable[[float], None], seconds: float = KNOCKS_FOR
) -> dict[str, Delay]:
    """Find the loop by chirps, then hear knocks that phones feel, or are touched by, in the silence after them.

    Parameters
    ----------
    engine : Engine
        That records.
    phones : Phones
        Let in already, no delay taken out of what they notice.
    progress : callable
        Told the share that is done.
    seconds : float
        For which knocks are listened for.

    Returns
    -------
    dict of str to Delay
        By the names of the phones.

    Raises
    ------
    CoachError
        If there is no microphone, or too few knocks of a phone are heard.
    SoundFailed
        If there is no sound.
    """
    samples, starts = make_chirps(RATE_HZ, number=3, silence=seconds)
    names = list(dict.fromkeys(each.name for each in phones.phones.values() if each.observes))
    begun = False

    def rest() -> None:
        nonlocal begun
        if not begun and engine.state is State.PLAYING:
            begun = True
            phones.begin(plan_of_knocks(seconds), perf_counter() - engine.position())
        phones.poll()
        time.sleep(_LOOK_EVERY)

    for share in _play(engine, samples, rest=rest):
        progress(share)
    phones.end(perf_counter())
    late = monotonic() + ROWS_FOR
    while monotonic() < late and not ((all_ := phones.collected()) is not None and all_.complete):
        phones.poll()
        time.sleep(_LOOK_EVERY)
    if not engine.latency_known:
        raise SoundFailed(Notice(Code.LATENCY_UNKNOWN))
    loops = _loops(engine, samples, starts)
    if loops.size == 0:
        raise CoachError("chirps.too_quiet")
    heard = lay_on_take(engine.recorded[:1], [float(np.median(loops))], frames=len(samples))
    quiet = float(starts[-1]) + 2 * RING_OUT
    found = phones.collected_of(names) or {}
    return measure_phone_delays(found, heard, RATE_HZ, take_time=engine.take_time, quiet=quiet)


def _times(engine: Engine, stamps: list[float]) -> Floats:
    if not engine.latency_known:
        raise SoundFailed(Notice(Code.LATENCY_UNKNOWN))
    times = np.array([engine.take_time(stamp) for stamp in stamps])
    times = np.sort(times[[engine.measurable(each) for each in times.tolist()]]) if times.size else times
    return times[~find_repeats(times)]


def _stamp_while_playing(
    engine: Engine, samples: np.ndarray, terminal: int, progress: Callable[[float], None]
) -> list[float]:
    """Play, and return the stamps (``perf_counter``) of keys pressed meanwhile."""
    stamps: list[float] = []
    with raw_keys(terminal):
        reader = KeyReader.start(terminal)
        if reader is None:
            raise CoachError("stamps.not_started")
        try:
            with steady_interpreter():
                for share in _play(engine, samples, rest=lambda: _take_in(reader, stamps)):
                    progress(share)
        finally:
            reader.end()
    return stamps


def _take_in(reader: KeyReader, stamps: list[float]) -> None:
    pieces = reader.wait(_LOOK_EVERY)
    if pieces is None:
        raise CoachError("terminal.gone")
    to_ours = perf_counter() - monotonic()
    stamps.extend(stamp + to_ours for stamp, data in pieces if data.isascii() and data not in (b"\r", b"\n"))


def _play(
    engine: Engine, samples: np.ndarray, *, rest: Callable[[], None] = lambda: time.sleep(_LOOK_EVERY)
) -> Iterator[float]:
    """Play to the end, decay included; yield the share that is done."""
    engine.start(samples, RATE_HZ)
    begin = monotonic()
    over = 0.0
    while not over or monotonic() < over:
        if any(news.notice == Notice(Code.NO_MICROPHONE) for news in engine.poll()):
            raise CoachError("microphone.not_opened")
        if engine.state is State.PAUSED:
            raise SoundFailed(engine.notice or Notice(Trouble.LOST))
        if engine.state is State.FINISHED and not over:
            over = monotonic() + RING_OUT
        if engine.state is State.OPENING and monotonic() > begin + PATIENCE:
            raise CoachError("device.not_playing")
        yield min(max(engine.position(), 0.0) / engine.duration, 1.0)
        rest()
    engine.stop()

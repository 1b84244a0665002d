"""Audio process: opens the device, plays samples that were mixed beforehand, and keeps a log.

It runs as ``python -m tempo_coach.live.audio.player BOARD`` with its orders on standard input, one JSON line first
and then single words. It is a process of its own because the screen's interpreter can be held for a tenth of
a second by its garbage collector, and a Python audio callback there loses sound. It imports nothing slow, and
its callback copies a slice and writes one record: no allocation to speak of, no lock, no print.

It is the only user of sounddevice.
"""

from __future__ import annotations

import gc
import json
import mmap
import os
import sys
import threading
from dataclasses import asdict, dataclass
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING, Any

from tempo_coach.live.audio.board import (
    COUNTER,
    INPUT_OVERRUN,
    OUTPUT_UNDERRUN,
    RECORD,
    RECORDS_WRITTEN_AT,
    Board,
    ProcessStage,
    record_place,
)
from tempo_coach.live.audio.priority import raise_priority

if TYPE_CHECKING:
    from collections.abc import Callable

CHANNELS = 2
FRAME = CHANNELS * 4
#: Silence played before the first sample: a server may swallow the first 50 ms of a stream, and the line
#: between the clocks is good after half a second.
BEFORE = 0.5
BRACKET_EVERY = 1.0
#: The reading of the device's clock that took least of this many is the one that nothing came between.
BRACKET_TRIES = 5

#: PortAudio's codes for a format that the device does not take: channels, sample format, sample rate.
REFUSED = (-9998, -9994, -9997)
#: PortAudio's codes for a device that is not there, or not free.
NO_DEVICE = (-9996, -9985)


@dataclass(frozen=True)
class PlaybackRequest:
    """The parameters of one playback.

    Attributes
    ----------
    samples : str
        Path of the float32 frames, two channels, nothing before them.
    rate_hz : int
    latency : float
        Seconds of sound kept ready; 0.1 costs nothing, because it is measured and taken out.
    first_frame : int
        The frame to begin with; later than 0 when a broken take goes on.
    loops : bool
        Whether the first frame follows the last, again and again.
    device : int, str or None
        Number or part of the name of the output device; None is the system's own choice.
    microphone : str or None
        Path of a file to write the microphone's float32 samples into, one channel; None leaves it closed.
    microphone_device : str or None
        Part of the name of the microphone; None is the system's own choice.
    """

    samples: str
    rate_hz: int
    latency: float = 0.1
    first_frame: int = 0
    loops: bool = False
    device: int | str | None = None
    microphone: str | None = None
    microphone_device: str | None = None


def line_of(request: PlaybackRequest) -> bytes:
    """Return an order as the line that the audio process reads."""
    return json.dumps(asdict(request)).encode() + b"\n"


def main() -> None:
    """Play as ordered on standard input, until it says stop or closes."""
    board = Board(Path(sys.argv[1]))
    request = PlaybackRequest(**json.loads(sys.stdin.buffer.readline()))
    if request.microphone is None:
        # With a microphone the library waits by looking again and again: first, it would keep the sound server waiting.
        raise_priority()
    try:
        import sounddevice
    except OSError as reason:
        board.say(ProcessStage.FAILED, trouble="no library", detail=str(reason)[:500])
        return
    try:
        _play(sounddevice, request, board)
    except (sounddevice.PortAudioError, ValueError) as reason:
        board.say(ProcessStage.FAILED, **_explain(sounddevice, request, reason))
    finally:
        # PortAudio's own clean-up can wait for ever on a server that does not answer.
        os._exit(0)


def _explain(sounddevice: Any, request: PlaybackRequest, reason: Exception) -> dict[str, Any]:
    code = reason.args[1] if len(reason.args) > 1 and isinstance(reason.args[1], int) else None
    detail = " ".join(str(part) for part in reason.args)[:500]
    try:
        offers = int(sounddevice.query_devices(request.device, "output")["default_samplerate"])
    except (sounddevice.PortAudioError, ValueError):
        return {"trouble": "no device", "detail": detail}
    if code in REFUSED:
        return {"trouble": "refused", "detail": detail, "offers_hz": offers}
    return {"trouble": "no device" if code in NO_DEVICE else "not opened", "detail": detail}


def _play(sounddevice: Any, request: PlaybackRequest, board: Board) -> None:
    name = sounddevice.query_devices(request.device, "output")["name"]
    samples = _mapped(Path(request.samples), writable=False)
    options: dict[str, Any] = {
        "samplerate": request.rate_hz,
        "dtype": "float32",
        "latency": request.latency,
        "blocksize": 0,
        "finished_callback": lambda: board.say(ProcessStage.ENDED, **board.words),
    }
    play = make_player(samples, request, board)
    said: dict[str, Any] = {"device": name}
    stream = None
    if request.microphone is not None:
        try:
            stream = sounddevice.RawStream(
                device=(request.microphone_device, request.device), channels=(1, CHANNELS), callback=play, **options
            )
            said["input_latency"], said["latency"] = stream.latency
        except (sounddevice.PortAudioError, ValueError) as reason:
            # A take without a recording is better than none.
            said["no_microphone"] = " ".join(str(part) for part in reason.args)[:500]
    if stream is None:
        stream = sounddevice.RawOutputStream(
            device=request.device, channels=CHANNELS, callback=lambda out, n, t, s: play(None, out, n, t, s), **options
        )
        said["latency"] = stream.latency
    board.say(ProcessStage.OPENED, **said)
    orders = _Orders()
    orders.wait()
    if orders.word != "start":
        return
    _touch(samples)
    gc.collect()
    gc.freeze()
    gc.disable()
    _bracket(stream, board)
    stream.start()
    board.say(ProcessStage.RUNNING, **board.words)
    while not orders.wait(BRACKET_EVERY):
        _bracket(stream, board)
    stream.abort()


def make_player(samples: memoryview, request: PlaybackRequest, board: Board) -> Callable[..., None]:
    """Return the callback that copies samples to the device and logs the times.

    Parameters
    ----------
    samples : memoryview
        Bytes of the float32 frames.
    request : PlaybackRequest
    board : Board

    Returns
    -------
    callable
        Takes what PortAudio gives: input buffer or None, output buffer, frames, times, flags.
    """
    microphone = _mapped(Path(request.microphone), writable=True) if request.microphone else None
    begin, total = request.first_frame, len(samples) // FRAME
    at = begin - round(BEFORE * request.rate_hz)
    heard_first = at
    silence = memoryview(bytes(FRAME * request.rate_hz))
    written = 0
    loops = request.loops and total > 0
    log = board.map

    def play(taken: Any, out: Any, frames: int, times: Any, flags: Any) -> None:
        nonlocal at, written
        now = perf_counter()
        end = at + frames
        if loops and begin <= at:
            copied = 0
            while copied < frames:
                first = (at + copied) % total
                last = min(first + frames - copied, total)
                out[copied * FRAME : (copied + last - first) * FRAME] = samples[first * FRAME : last * FRAME]
                copied += last - first
        elif begin <= at and end <= total:
            out[:] = samples[at * FRAME : end * FRAME]
        else:
            out[:] = silence[: frames * FRAME]
            first, last = max(at, begin), min(end, total)  # of what loops, the first block alone comes here
            if first < last:
                out[(first - at) * FRAME : (last - at) * FRAME] = samples[first * FRAME : last * FRAME]
        if microphone is not None and taken is not None and (end - heard_first) * 4 <= len(microphone):
            microphone[(at - heard_first) * 4 : (end - heard_first) * 4] = taken[:]
        marks = 0
        if flags:
            marks = (OUTPUT_UNDERRUN if flags.output_underflow else 0) | (INPUT_OVERRUN if flags.input_overflow else 0)
        RECORD.pack_into(
            log,
            record_place(written),
            at,
            frames,
            times.outputBufferDacTime,
            times.currentTime,
            now,
            marks,
            times.inputBufferAdcTime if taken is not None else 0.0,
        )
        written += 1
        COUNTER.pack_into(log, RECORDS_WRITTEN_AT, written)
        at = end

    return play


class _Orders:
    """Orders from standard input, read in a thread so that the main one can keep time."""

    def __init__(self) -> None:
        self.word = ""
        self._came = threading.Event()
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        for line in sys.stdin.buffer:
            self.word = line.decode().strip()
            self._came.set()
        # The program has gone, however it went: there is nobody left to play for.
        self.word = "stop"
        self._came.set()

    def wait(self, seconds: float | None = None) -> bool:
        """Wait for an order and return whether one came."""
        came = self._came.wait(seconds)
        if came:
            self._came.clear()
        return came


def _bracket(stream: Any, board: Board) -> None:
    best: tuple[float, float, float] | None = None
    for _ in range(BRACKET_TRIES):
        before = perf_counter()
        device = stream.time
        after = perf_counter()
        half = (after - before) / 2
        if best is None or half < best[2]:
            best = (before + half, device, half)
    if best is not None:
        board.add_bracket(*best)


def _mapped(path: Path, *, writable: bool) -> memoryview:
    if path.stat().st_size == 0:
        return memoryview(b"")
    with path.open("r+b" if writable else "rb") as file:
        return memoryview(mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_WRITE if writable else mmap.ACCESS_READ))


def _touch(samples: memoryview) -> None:
    """Read a byte of every page, so that the callback never waits for the disk."""
    for at in range(0, len(samples), mmap.PAGESIZE):
        samples[at]


if __name__ == "__main__":
    main()

"""The program's side of the audio process: starts it, reads its log, notices when it stops, and opens it again.

Nothing here waits and no thread runs: :meth:`Engine.poll` does everything, so that a screen which is busy for
a moment loses nothing. The samples lie in a file that the audio process maps, in the cache and not in memory
that systems keep small.
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.live.audio.board import OUTPUT_UNDERRUN, ProcessStage, make_room
from tempo_coach.live.audio.device_clock import DeviceClock
from tempo_coach.live.audio.device_rate import RateChange, RateWatch
from tempo_coach.live.audio.gapless import SETTLING
from tempo_coach.live.audio.playback import MAY_COME_BACK, News, NewsKind, State
from tempo_coach.live.audio.player import BEFORE, CHANNELS, PlaybackRequest
from tempo_coach.live.audio.process import Process
from tempo_coach.live.audio.samples import SamplesFolder
from tempo_coach.live.audio.timeline import Gap, OutputLatency, Timeline
from tempo_coach.live.notices import Code, Notice, Trouble

if TYPE_CHECKING:
    from tempo_coach.live.inputs.microphone import Recorded

#: Seconds without a block after which the device counts as frozen.
WATCHDOG = 0.5
#: The same for the first block: some devices wake up slowly.
FIRST_BLOCK = 3.0
#: Seconds that opening a device may take; a server that does not answer never says no.
OPENING = 8.0
#: Seconds that a microphone goes on after the last sample: what is heard comes back later than it is played.
AFTER = 2.0
#: Seconds between two tries to open a device that went away.
TRY_AGAIN = 1.0


class Engine:
    """Plays a take through the sound device. See :class:`tempo_coach.live.audio.playback.Player` for what it offers.

    Parameters
    ----------
    device : int, str or None
        Number or part of the name of the output device; None is the system's own choice.
    latency : float
        Seconds of sound kept ready. It is measured and taken out, so it buys safety for nothing.
    folder : pathlib.Path or None
        Where to put the samples; None is :func:`tempo_coach.live.audio.samples.samples_folder`.
    microphone : str or None
        Part of the name of a microphone to record with, ``""`` for the system's own choice; None records nothing.
    """

    silent = False

    def __init__(
        self,
        *,
        device: int | str | None = None,
        latency: float = 0.1,
        folder: Path | None = None,
        microphone: str | None = None,
    ) -> None:
        self.state = State.IDLE
        self.trouble: Trouble | None = None
        self.notice: Notice | None = None
        self.name = "sound"
        self._device = device
        self._latency = latency
        self._microphone = microphone
        self._recorded: list[Recorded] = []
        self._reported_loop = math.nan
        self._wanted_folder = folder
        self._folder: SamplesFolder | None = None
        self._order: PlaybackRequest | None = None
        self._frames = 0
        self._timeline = Timeline(48_000)
        self._latencies: dict[int, OutputLatency] = {}
        self._pauses: list[Gap] = []
        self._clock = DeviceClock()
        self._rate = RateWatch(48_000)
        self._process: Process | None = None
        self._ready_to_resume = False
        self._last_block = 0.0
        self._block = 0.0
        self._try_again_at = math.inf
        self._stood_at = math.nan
        self._untold: list[News] = []

    @property
    def can_resume(self) -> bool:
        """Whether a paused take can be resumed now."""
        return self._ready_to_resume

    @property
    def rate_hz(self) -> int:
        """Sample rate of the samples that were last started."""
        return self._timeline.rate_hz

    @property
    def duration(self) -> float:
        """Length of the samples in seconds."""
        return self._frames / self.rate_hz

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """All stretches of the take in which nothing can be measured, in order."""
        return tuple(sorted([*self._timeline.gaps, *self._pauses], key=lambda gap: gap.start))

    @property
    def latency_known(self) -> bool:
        """Whether the device's statements of its latency are consistent, in this take or an earlier one."""
        return self._timeline.output_latency.known

    @property
    def recorded(self) -> tuple[Recorded, ...]:
        """Recordings of the microphone, one for each opening of the device; complete once playing has stopped."""
        return tuple(self._recorded)

    @property
    def reported_loop(self) -> float:
        """Seconds from output to input as the device reports them; NaN where it does not."""
        return self._reported_loop

    @property
    def pid(self) -> int | None:
        """Process number of the audio process, while there is one."""
        return self._process.popen.pid if self._process else None

    def start(self, samples: np.ndarray, rate_hz: int, *, first_frame: int = 0, loops: bool = False) -> None:
        """Start the samples; :meth:`poll` reports when they sound.

        Parameters
        ----------
        samples : numpy.ndarray, shape (frames,) or (frames, 1 or 2)
            Full scale 1.
        rate_hz : int
            Frames a second.
        first_frame : int
            The frame to begin with. Take time 0 stays the first frame of all.
        loops : bool
            Whether the first frame follows the last, again and again; take time goes on.

        Raises
        ------
        ValueError
            If the samples have another shape, or the first frame is not one of them.
        """
        samples = np.asarray(samples)
        if samples.ndim == 1:
            samples = samples[:, np.newaxis]
        if samples.ndim != 2 or samples.shape[1] not in (1, CHANNELS):
            raise ValueError(f"expected samples of shape (frames, 1 or 2), got {samples.shape}")
        if not 0 <= first_frame <= len(samples):
            raise ValueError(f"expected a first frame from 0 to {len(samples)}, got {first_frame}")
        self.stop()
        self._timeline = Timeline(rate_hz, self._latencies.get(rate_hz, OutputLatency()))
        self._pauses = []
        self._recorded = []
        self._stood_at = math.nan
        self._frames = len(samples)
        self._order = None
        try:
            self._folder = self._folder or SamplesFolder(self._wanted_folder)
            path = self._folder.path / "samples.f32"
            both = np.broadcast_to(samples, (len(samples), CHANNELS))
            np.ascontiguousarray(both, dtype="<f4").tofile(path)
        except OSError:
            self._untold = self._pause(Trouble.NO_ROOM)
            return
        self._order = PlaybackRequest(
            samples=str(path),
            rate_hz=rate_hz,
            latency=self._latency,
            first_frame=first_frame,
            loops=loops,
            device=self._device,
            microphone=None if self._microphone is None else str(self._folder.path / "microphone.f32"),
            microphone_device=self._microphone or None,
        )
        self.state, self.trouble, self.notice = State.OPENING, None, None
        self._open()

    def poll(self) -> list[News]:
        """Process the log of the audio process, and return what is new."""
        new = self._poll()
        news, self._untold = [*self._untold, *new], []
        return news

    def _poll(self) -> list[News]:
        if self._process is None:
            if self.state is State.PAUSED and perf_counter() >= self._try_again_at:
                self._open()
            return []
        if self.state is State.OPENING:
            return self._poll_opening(self._process)
        if self.state is State.PAUSED:
            return self._poll_paused(self._process)
        if self.state in (State.PLAYING, State.FINISHED):
            return self._poll_playing(self._process)
        return []

    def position(self) -> float:
        """Return the take time heard now: negative before the first sample, constant in a pause."""
        if self.state in (State.PLAYING, State.FINISHED):
            now = self._timeline.take_time(perf_counter())
            if math.isfinite(now):
                self._stood_at = now
        return self._stood_at if math.isfinite(self._stood_at) else self._begins_at()

    def take_time(self, stamp: float) -> float:
        """Return the take time heard at a stamp of ``perf_counter``, or NaN."""
        return self._timeline.take_time(stamp)

    def measurable(self, time: float) -> bool:
        """Return whether an onset at a take time can be scored."""
        return math.isfinite(time) and not any(gap.start <= time < gap.end for gap in self.gaps)

    def resume(self, *, first_frame: int | None = None) -> None:
        """Resume after a pause, from the interruption or from a frame.

        Raises
        ------
        ValueError
            If it is not paused, or the sound has not come back yet.
        """
        if self.state is not State.PAUSED or self._order is None or not self._ready_to_resume:
            raise ValueError("expected a paused take whose sound is back")
        if first_frame is None:
            first_frame = max(0, round(self.position() * self.rate_hz))
        if self._process is None or first_frame != self._order.first_frame:
            self._end_process()
            self._order = replace(self._order, first_frame=first_frame)
        self.state, self.trouble, self.notice = State.OPENING, None, None
        self._ready_to_resume = False
        if self._process is None:
            self._open()

    def stop(self) -> None:
        """Fall silent at once; stamps of the take can still be converted to take time."""
        if self._process is not None:
            if self.state in (State.PLAYING, State.FINISHED):
                self._take_in(self._process)
                self._stood_at = self._timeline.close(perf_counter())
                if self._timeline.output_latency.known:
                    self._latencies[self.rate_hz] = self._timeline.output_latency
            self._end_process()
        self.state, self.trouble, self.notice = State.IDLE, None, None
        self._ready_to_resume = False
        self._untold = []

    def close(self) -> None:
        """Stop, and release the audio process and the samples' file."""
        self.stop()
        if self._folder is not None:
            self._folder.close()
            self._folder = None

    def _begins_at(self) -> float:
        first = self._order.first_frame if self._order else 0
        return first / self.rate_hz - BEFORE

    def _open(self) -> None:
        if self._order is None or self._folder is None:
            raise ValueError("expected samples to be started before a device is opened")
        try:
            if self._order.microphone is not None:
                left = self._frames - self._order.first_frame
                make_room(Path(self._order.microphone), 4 * (left + round((BEFORE + AFTER) * self._order.rate_hz)))
            self._process = Process(self._order, self._folder.path)
        except OSError:
            self._untold += self._pause(Trouble.NO_ROOM)
            return
        self._clock, self._rate = DeviceClock(), RateWatch(self.rate_hz)
        self._try_again_at = math.inf

    def _end_process(self) -> None:
        if self._process is not None:
            self._process.end()
            self._recorded += self._process.recorded(self.rate_hz)
            self._process = None

    def _poll_opening(self, process: Process) -> list[News]:
        stage = process.board.stage
        if stage is ProcessStage.FAILED or process.ended:
            return self._failed(process)
        if stage is ProcessStage.OPENED and not process.started:
            process.start()
        if stage in (ProcessStage.RUNNING, ProcessStage.ENDED):
            self._take_in(process)
            if process.records_seen:
                self.name = str(process.board.words["device"])
                self.state = State.PLAYING
                words = process.board.words
                self._reported_loop = float(words["latency"]) + float(words.get("input_latency", math.nan))
                news = [News(NewsKind.PLAYING, self.position())]
                if "no_microphone" in process.board.words:
                    news.append(News(NewsKind.NOTED, self.position(), Notice(Code.NO_MICROPHONE)))
                return news
        limit = FIRST_BLOCK + OPENING if process.started else OPENING
        return self._pause(Trouble.NOT_OPENED) if process.age > limit else []

    def _poll_paused(self, process: Process) -> list[News]:
        if process.board.stage is ProcessStage.FAILED or process.ended or process.age > OPENING + TRY_AGAIN:
            if not self._ready_to_resume or process.ended:
                self._ready_to_resume = False
                self._end_process()
                self._try_again_at = perf_counter() + TRY_AGAIN
        elif process.board.stage is ProcessStage.OPENED and not self._ready_to_resume:
            self._ready_to_resume = True
            self.notice = Notice(Code.BACK)
            return [News(NewsKind.BACK, self.position(), self.notice)]
        return []

    def _poll_playing(self, process: Process) -> list[News]:
        news = [News(NewsKind.GAP, gap.start, Notice(Code.GAP), gap=gap) for gap in self._take_in(process)]
        if process.board.stage is not ProcessStage.RUNNING or process.ended:
            return news + self._pause(Trouble.LOST)
        if perf_counter() - self._last_block > WATCHDOG:
            return news + self._pause(Trouble.FROZEN)
        other = self._rate.find()
        if other is not None:
            return news + self._pause_from(other)
        loops = self._order is not None and self._order.loops
        if self.state is State.PLAYING and not loops and self.position() >= self.duration:
            self.state = State.FINISHED
            if self._timeline.output_latency.contradicted:
                news.append(News(NewsKind.NOTED, self.duration, Notice(Code.LATENCY_UNKNOWN)))
            news.append(News(NewsKind.FINISHED, self.duration))
        return news

    def _take_in(self, process: Process) -> list[Gap]:
        known = len(self._timeline.gaps)
        for middle, device, _ in process.new_brackets():
            self._clock.add(middle, device)
        latency = float(process.board.words.get("latency", self._latency))
        for frame, frames, device, _, now, marks, _ in process.new_records():
            process.note(int(frame), int(frames), int(marks))
            heard = self._clock.heard(device, now, latency)
            underrun = bool(int(marks) & OUTPUT_UNDERRUN) and self._last_block > 0
            self._timeline.add(frame, int(frames), heard, now, underrun=underrun, kept=latency)
            self._rate.add(frame + frames, now)
            self._last_block, self._block = now, frames / self.rate_hz
        return self._timeline.gaps[known:]

    def _failed(self, process: Process) -> list[News]:
        words = process.board.words
        trouble = Trouble(words["trouble"]) if "trouble" in words else Trouble.LOST
        return self._pause(trouble, offers_hz=words.get("offers_hz"))

    def _pause_from(self, other: RateChange) -> list[News]:
        """Pause a take whose device changed its rate, from that moment on."""
        self._timeline.leave_out(other.frame)
        return self._pause(Trouble.OTHER_RATE, offers_hz=other.rate_hz)

    def _pause(self, trouble: Trouble, *, offers_hz: int | None = None) -> list[News]:
        self.position()
        # The sound went on at least until the next block was due.
        stopped = self._timeline.close(self._last_block + self._block)
        if math.isfinite(stopped):
            self._stood_at = stopped
            again = max(stopped, 0.0) + SETTLING
            self._pauses.append(Gap(max(stopped, 0.0) - WATCHDOG, again, math.nan))
        self._end_process()
        self.state, self.trouble = State.PAUSED, trouble
        about_rate = trouble in (Trouble.REFUSED, Trouble.OTHER_RATE)
        self.notice = Notice(trouble, (self.rate_hz, offers_hz) if about_rate else ())
        self._ready_to_resume = False
        self._last_block = 0.0
        if self._order is not None:
            first = max(0, round(self.position() * self.rate_hz))
            first = first if self._order.loops else min(self._frames, first)
            self._order = replace(self._order, first_frame=first)
        self._try_again_at = perf_counter() + TRY_AGAIN if trouble in MAY_COME_BACK else math.inf
        return [News(NewsKind.PAUSED, self.position(), self.notice, trouble=trouble)]

"""A sound server of the tests' own: a sink that swallows everything, and its monitor to record from."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import subprocess
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

STOCK_ALSA = Path("/usr/share/alsa/alsa.conf")
PLUGIN = "libasound_module_pcm_pulse.so"


def missing_part() -> str | None:
    """Return what this machine lacks to run the server, or None."""
    for program in ("pulseaudio", "parec", "pactl"):
        if shutil.which(program) is None:
            return f"the program {program} is not installed"
    if not STOCK_ALSA.is_file():
        return f"{STOCK_ALSA} is not there"
    if not list(Path("/usr/lib").glob(f"*/alsa-lib/{PLUGIN}")):
        return f"the sound plugin {PLUGIN} is not installed"
    try:
        import sounddevice  # noqa: F401 - only whether the library is there
    except OSError:
        return "the PortAudio library is not installed"
    return None


class SoundServer:
    """A private PulseAudio on a null sink, reached through a socket in a folder of its own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.socket = folder / "native"
        self.process: subprocess.Popen[bytes] | None = None
        alsa = folder / "alsa.conf"
        alsa.write_text(f"<{STOCK_ALSA}>\npcm.!default {{ type pulse }}\nctl.!default {{ type pulse }}\n")
        self.environment = {
            "PULSE_SERVER": f"unix:{self.socket}",
            "PULSE_RUNTIME_PATH": str(folder),
            "PULSE_STATE_PATH": str(folder),
            "PULSE_COOKIE": str(folder / "cookie"),
            "ALSA_CONFIG_PATH": str(alsa),
        }

    def start(self, *, rate_hz: int = 48_000) -> None:
        """Start the server and wait until it answers."""
        self.socket.unlink(missing_ok=True)
        with (self.folder / "server.log").open("ab") as log:
            self.process = subprocess.Popen(
                [
                    "pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no",
                    "--disable-shm=yes", "--realtime=no", "--high-priority=no", "--log-level=warn",
                    "-L", f"module-null-sink sink_name=null format=float32le rate={rate_hz} channels=2",
                    "-L", f"module-native-protocol-unix socket={self.socket} auth-anonymous=1",
                ],
                env={**os.environ, **self.environment}, stdout=log, stderr=log, stdin=subprocess.DEVNULL,
            )  # fmt: skip
        give_up = time.monotonic() + 20
        while time.monotonic() < give_up:
            if self.process.poll() is not None:
                break
            if self.socket.exists() and self._answers():
                return
            time.sleep(0.02)
        raise RuntimeError(f"the sound server did not start: {(self.folder / 'server.log').read_text()}")

    def _answers(self) -> bool:
        return self._ask("info") is not None

    def _ask(self, *words: str) -> bytes | None:
        """What the server says to a word, or nothing where it does not answer."""
        environment = {**os.environ, **self.environment}
        asked = subprocess.run(["pactl", *words], env=environment, capture_output=True, check=False)
        return asked.stdout if asked.returncode == 0 else None

    def _wake(self, recording: Recording) -> None:
        """Let a sink that nobody listened to until now begin at once, instead of at its next turn in two seconds."""
        give_up = time.monotonic() + 2
        while not self._ask("list", "short", "source-outputs"):
            if recording.frames() or time.monotonic() > give_up:
                return
            time.sleep(0.01)
        for suspended in "10":
            self._ask("suspend-sink", "null", suspended)

    def load(self, *words: str) -> None:
        """Load a module, with its options."""
        if self._ask("load-module", *words) is None:
            raise RuntimeError(f"the sound server does not load {' '.join(words)}")

    def choose(self, sink: str) -> None:
        """Make a sink the one that is played on."""
        self._ask("set-default-sink", sink)

    def signal(self, number: int) -> None:
        """Send a signal to the server, and to nothing else."""
        assert self.process is not None
        os.kill(self.process.pid, number)

    def kill(self) -> None:
        """End the server at once, as a crash would."""
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(signal.SIGCONT)
            self.process.kill()
            self.process.wait(timeout=10)
        self.process = None

    @contextlib.contextmanager
    def recording(self, *, rate_hz: int = 48_000) -> Iterator[Recording]:
        """Record what the sink plays, by a program that is not ours, until the block ends."""
        with tempfile.NamedTemporaryFile(dir=self.folder, suffix=".raw", delete=False) as file:
            recorder = subprocess.Popen(
                [
                    "parec", "--device=null.monitor", "--format=float32le",
                    f"--rate={rate_hz}", "--channels=2", "--latency-msec=50",
                ],
                env={**os.environ, **self.environment}, stdout=file, stdin=subprocess.DEVNULL,
            )  # fmt: skip
            recording = Recording(Path(file.name))
            try:
                self._wake(recording)
                recording.wait_for_frames(1)
                yield recording
            finally:
                recorder.terminate()
                recorder.wait(timeout=10)


class Recording:
    """What the recorder has written so far."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def frames(self) -> int:
        """Return how many frames have been recorded."""
        return self.path.stat().st_size // 8

    def wait_for_frames(self, frames: int, *, at_most: float = 30.0) -> None:
        """Wait until that many frames are there."""
        give_up = time.monotonic() + at_most
        while self.frames() < frames:
            if time.monotonic() > give_up:
                raise RuntimeError("the recorder wrote nothing")
            time.sleep(0.01)

    def samples(self) -> np.ndarray:
        """Return the recording, shape (frames, 2)."""
        raw = np.fromfile(self.path, dtype="<f4")
        return raw[: len(raw) // 2 * 2].reshape(-1, 2)

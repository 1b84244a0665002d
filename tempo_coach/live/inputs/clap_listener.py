"""Listener for a clap: a process that records until there is one, and its interface in the program.

The stream is open only while somebody waits, and nothing of it is kept.
"""

from __future__ import annotations

import os
import select
import subprocess
import sys

from tempo_coach.live.notices import Code, Notice

#: What the process says once it has heard a clap, and where it cannot listen: without its library, or with the device's
#: own words behind.
CLAP, NO_LIBRARY, REFUSED = "clap", "no library", "refused "
#: Samples a second and seconds of a block: enough for what is high in a clap, and soon enough.
RATE_HZ, BLOCK = 16_000, 0.02


class ClapListener:
    """Waits for a clap in a process of its own.

    Parameters
    ----------
    microphone : str
        Part of its name; empty for the system's own choice.
    """

    def __init__(self, microphone: str = "") -> None:
        self.trouble: Notice | None = None
        self._said = b""
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tempo_coach.live.inputs.clap_listener", microphone],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )

    def heard(self) -> bool:
        """Whether there was a clap; if there can be none, ``trouble`` says why from then on."""
        try:
            self._read()
        except OSError:  # where pipes cannot be waited for, as on Windows
            self.trouble = Notice(Code.CLAP_NO_PIPES)
            return False
        said = self._said.decode("utf-8", "replace").strip()
        if said == NO_LIBRARY:
            self.trouble = Notice(Code.CLAP_NO_LIBRARY)
        elif said.startswith(REFUSED):
            self.trouble = Notice(Code.CLAP_REFUSED, (said.removeprefix(REFUSED),))
        elif said != CLAP and self._process.poll() is not None:
            self.trouble = Notice(Code.CLAP_LISTENER_GONE)
        return said == CLAP

    def _read(self) -> None:
        out = self._process.stdout
        while out is not None and not out.closed and select.select([out], [], [], 0)[0]:
            piece = os.read(out.fileno(), 4096)
            if not piece:
                return
            self._said += piece

    def close(self) -> None:
        """Close the microphone."""
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe is not None:
                pipe.close()
        try:
            self._process.wait(timeout=1.0)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()


def main(microphone: str) -> str:
    """Listen until there is a clap or nobody waits any more; return the message."""
    from tempo_coach.live.inputs.clap import ClapFinder

    try:
        import sounddevice
    except OSError:
        return NO_LIBRARY
    try:
        stream = sounddevice.InputStream(
            samplerate=RATE_HZ, channels=1, dtype="float32", device=microphone or None, latency="high"
        )
    except (sounddevice.PortAudioError, ValueError) as reason:
        return f"{REFUSED}{' '.join(str(part) for part in reason.args)[:200]}"
    finder = ClapFinder(RATE_HZ)
    with stream:
        while not select.select([sys.stdin], [], [], 0)[0]:
            block, _ = stream.read(round(BLOCK * RATE_HZ))
            if finder.feed(block[:, 0]):
                return CLAP
    return ""


if __name__ == "__main__":
    print(main(sys.argv[1]), flush=True)  # noqa: T201  this is what the process is for

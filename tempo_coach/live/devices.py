"""Which sound devices there are, asked in a process of its own: a sound library may print, hang or crash.

``python -m tempo_coach.live.devices`` prints them as JSON.
"""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import dataclass

from tempo_coach.live.playing import Trouble, sentence_for

#: Seconds after which a sound server that does not answer is given up.
PATIENCE = 8.0


@dataclass(frozen=True)
class Devices:
    """What can be heard and recorded through.

    Parameters
    ----------
    outputs, inputs : tuple of str
        Names of the devices, the system's own choice first.
    sentence : str
        Why there are none; empty where there are some.
    """

    outputs: tuple[str, ...]
    inputs: tuple[str, ...]
    sentence: str = ""


def list_devices() -> Devices:
    """Return the sound devices of this machine; never raises and never hangs."""
    command = [sys.executable, "-m", "tempo_coach.live.devices"]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=PATIENCE, check=False)
    except subprocess.TimeoutExpired:
        return Devices((), (), sentence_for(Trouble.NOT_OPENED))
    try:
        found = json.loads(done.stdout.splitlines()[-1])
    except (IndexError, json.JSONDecodeError):
        return Devices((), (), sentence_for(Trouble.NOT_OPENED))
    if found.get("library") is False:
        return Devices((), (), sentence_for(Trouble.NO_LIBRARY))
    outputs, inputs = tuple(found["outputs"]), tuple(found["inputs"])
    return Devices(outputs, inputs, "" if outputs else sentence_for(Trouble.NO_DEVICE))


def _ask() -> dict[str, object]:
    try:
        import sounddevice
    except OSError:
        return {"library": False}
    devices = list(sounddevice.query_devices())
    names: dict[str, list[str]] = {}
    for key, usual, channels in zip(
        ("inputs", "outputs"), sounddevice.default.device, ("max_input_channels", "max_output_channels"), strict=True
    ):
        able = [k for k, device in enumerate(devices) if device[channels] > 0]
        able.sort(key=lambda k, usual=usual: k != usual)  # type: ignore[misc]  # the usual one first
        names[key] = [str(devices[k]["name"]) for k in able]
    return {"library": True, **names}


if __name__ == "__main__":
    print(json.dumps(_ask()))  # noqa: T201  this is what the process is for

"""The sound devices of this machine, listed in a process of its own: a sound library may print, hang or crash.

``python -m tempo_coach.live.audio.devices`` prints them as JSON; with ``outputs NAME`` or ``inputs NAME`` after it
also whether that is the name of exactly one.
"""

from __future__ import annotations

import json
import subprocess
import sys
from contextlib import suppress
from dataclasses import dataclass
from typing import Literal

from tempo_coach.errors import CoachError
from tempo_coach.live.notices import Trouble

#: Seconds after which a sound server that does not answer is given up.
PATIENCE = 8.0


@dataclass(frozen=True)
class Devices:
    """The devices for output and for input.

    Parameters
    ----------
    outputs, inputs : tuple of str
        Names of the devices, the system's own choice first.
    trouble : Trouble or None
        Why there are none; None where there are some.
    is_one : bool
        Whether the name that was asked for is that of exactly one of them; True where none was asked for.
    """

    outputs: tuple[str, ...]
    inputs: tuple[str, ...]
    trouble: Trouble | None = None
    is_one: bool = True


def check_device(name: str, way: Literal["outputs", "inputs"], *, where: str) -> None:
    """Refuse a name that matches no device, or several, and list the available ones.

    A machine without any device is not told here: what plays tells it, and goes on without sound.

    Parameters
    ----------
    name : str
        Part of the device's name.
    way : {"outputs", "inputs"}
    where : str
        The option that named it.

    Raises
    ------
    CoachError
        If there are devices, and the name is not that of one.
    """
    found = list_devices((way, name))
    there = found.outputs if way == "outputs" else found.inputs
    if there and not found.is_one:
        code = "device.no_loudspeaker" if way == "outputs" else "device.no_microphone"
        raise CoachError(code, where=where, name=name, there=tuple(dict.fromkeys(there)))


def list_devices(asked: tuple[str, str] | None = None) -> Devices:
    """Return the sound devices of this machine; never raises and never hangs.

    Parameters
    ----------
    asked : tuple of str or None
        ``"outputs"`` or ``"inputs"``, and a name.
    """
    command = [sys.executable, "-m", "tempo_coach.live.audio.devices", *(asked or ())]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=PATIENCE, check=False)
    except subprocess.TimeoutExpired:
        return Devices((), (), Trouble.NOT_OPENED)
    try:
        found = json.loads(done.stdout.splitlines()[-1])
    except (IndexError, json.JSONDecodeError):
        return Devices((), (), Trouble.NOT_OPENED)
    if found.get("library") is False:
        return Devices((), (), Trouble.NO_LIBRARY)
    outputs, inputs = tuple(found["outputs"]), tuple(found["inputs"])
    return Devices(outputs, inputs, None if outputs else Trouble.NO_DEVICE, bool(found["is_one"]))


def _ask(way: str = "", name: str = "") -> dict[str, object]:
    try:
        import sounddevice
    except OSError:
        return {"library": False}
    devices = list(sounddevice.query_devices())
    names: dict[str, list[str]] = {}
    for key, default, channels in zip(
        ("inputs", "outputs"), sounddevice.default.device, ("max_input_channels", "max_output_channels"), strict=True
    ):
        able = [k for k, device in enumerate(devices) if device[channels] > 0]
        able.sort(key=lambda k, default=default: k != default)  # type: ignore[misc]  # the default one first
        names[key] = [str(devices[k]["name"]) for k in able]
    is_one = not way
    with suppress(ValueError, sounddevice.PortAudioError):
        is_one = is_one or bool(sounddevice.query_devices(name, way.removesuffix("s")))
    return {"library": True, "is_one": is_one, **names}


if __name__ == "__main__":
    print(json.dumps(_ask(*sys.argv[1:])))  # noqa: T201  this is what the process is for

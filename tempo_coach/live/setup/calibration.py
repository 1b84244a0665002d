"""Calibrations kept for each device: its delay, and the noise that observing through it adds.

One small JSON file in the folder of this person's data. What was measured stands in it in milliseconds, with its 95 %
interval and its date; what is taken out of a take is chosen from it here.
"""

from __future__ import annotations

import json
import math
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from tempo_coach.errors import CoachError
from tempo_coach.history.data_folder import data_folder
from tempo_coach.live.notices import Code, Notice
from tempo_coach.observe.observers import OBSERVERS, Floor
from tempo_coach.resources import read_text

if TYPE_CHECKING:
    from pathlib import Path

    from tempo_coach.live.setup.chirps import LoopDelay
    from tempo_coach.live.setup.delays import Delay, TapDelay
    from tempo_coach.observe.observers import ObservedBy

#: Raised whenever a reader of the version before could not understand the file any more.
VERSION = 1
#: Under this name stands what is the same with every device.
THIS_COMPUTER = "this computer"


@dataclass(frozen=True)
class Setup:
    """The calibration of a set-up.

    Parameters
    ----------
    delay : float
        Seconds by which onsets come late because of the setup; taken out of them.
    noise_floor_ms : float or None
        SD that this way of observing adds; None where it was not measured.
    loop : float or None
        Seconds from playing to hearing it again by the microphone.
    notice : Notice or None
        What the person has to know; None where there is nothing.
    found_by : str
        Which measurement the delay comes from; empty without one.
    """

    delay: float = 0.0
    noise_floor_ms: float | None = None
    loop: float | None = None
    notice: Notice | None = None
    found_by: str = ""


def calibration_file() -> Path:
    """Return the file in which calibrations are kept."""
    return data_folder() / "calibration.json"


def read_calibrations(path: Path | None = None) -> dict[str, dict[str, Any]]:
    """Return the calibrations by device: ``taps``, ``strokes``, ``loop``, each as :func:`to_plain` returns it.

    What is the same with every device, ``stamps``, stands under ``THIS_COMPUTER``.

    Raises
    ------
    CoachError
        If the file cannot be read.
    """
    path = path or calibration_file()
    if not path.exists():
        return {}
    text = read_text(path, what="calibration")
    try:
        kept = json.loads(text)
        version, devices = kept["version"], kept["devices"]
        found = {str(name): {str(key): dict(value) for key, value in each.items()} for name, each in devices.items()}
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise CoachError("calibration.unreadable", where=str(path)) from error
    if version != VERSION:
        raise CoachError("calibration.version", where=str(path), known=VERSION, version=version)
    return found


def keep_calibration(device: str, measured: dict[str, dict[str, Any]], path: Path | None = None) -> Path:
    """Store a measurement of a device beside its earlier ones, and return the file.

    Raises
    ------
    CoachError
        If it cannot be read or written.
    """
    path = path or calibration_file()
    devices = read_calibrations(path)
    devices[device] = {**devices.get(device, {}), **measured}
    temporary = path.with_suffix(".part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        temporary.write_text(json.dumps({"version": VERSION, "devices": devices}, indent=1) + "\n", encoding="utf-8")
        temporary.replace(path)
    except OSError as error:
        raise CoachError("calibration.not_written", where=str(path), reason=error.strerror) from error
    return path


def to_plain(found: Delay | TapDelay | LoopDelay, *, begun: str) -> dict[str, Any]:
    """Return a measurement as plain values in milliseconds."""
    values = asdict(found)
    if "openings" in values:
        openings = values["openings"]
        plain: dict[str, Any] = {
            "loop_ms": _ms(found.delay),  # type: ignore[union-attr]  # only a loop has openings
            "spread_ms": _ms(values["spread"]),
            "openings_ms": [_ms(each) for each in openings],
            "changes": found.changes,  # type: ignore[union-attr]  # only a loop has openings
        }
    elif "tapped" in values:
        plain = {**_delay(values["tapped"]), "setup_ms": _ms(values["setup"]["mean"])}
        plain["setup_ci95_ms"] = [_ms(values["setup"][end]) for end in ("low", "high")]
    else:
        plain = _delay(values)
    return {**plain, "begun": begun}


def find_setup(known: dict[str, Any], observed_by: ObservedBy) -> Setup:
    """Return the calibration that applies to a take.

    Strokes that the microphone heard go before taps to clicks, because no person is in them.

    Parameters
    ----------
    known : dict
        Of one device, from :func:`read_calibrations`.
    observed_by : str

    Examples
    --------
    >>> find_setup({"taps": {"setup_ms": 40.0}, "stamps": {"spread_ms": 0.1}}, "tap")
    Setup(delay=0.04, noise_floor_ms=0.1, loop=None, notice=None, found_by='taps to clicks')
    """
    loop = known.get("loop")
    seconds = None if loop is None else float(loop["loop_ms"]) / 1000
    notice = None
    if loop is not None and loop["changes"]:
        apart = max(loop["openings_ms"]) - min(loop["openings_ms"])
        notice = Notice(Code.DELAY_CHANGES, (apart,))
    observer = OBSERVERS[observed_by]
    if not observer.is_pressed:
        return Setup(loop=seconds, notice=notice)
    delay, found_by, floors = 0.0, "", [known.get("stamps", {}).get("spread_ms")]
    if "strokes" in known:
        delay, found_by = float(known["strokes"]["delay_ms"]) / 1000, "strokes heard"
        floors = [known["strokes"]["spread_ms"]]
    elif "taps" in known:
        delay, found_by = float(known["taps"]["setup_ms"]) / 1000, "taps to clicks"
    floor = float(floors[0]) if floors[0] is not None and observer.floor is Floor.SETUP else None
    return Setup(delay, floor, seconds, notice, found_by)


#: Under this name and that of whose it is stands what was measured of a phone.
PHONE = "phone of "


def phone_latency(name: str) -> float | None:
    """Return the measured delay of somebody's phone in seconds; None where it is unknown."""
    try:
        known = read_calibrations().get(f"{PHONE}{name}", {})
        return float(known["knock"]["delay_ms"]) / 1000
    except (CoachError, KeyError, TypeError, ValueError):
        return None


def setup_of(device: str, observed_by: ObservedBy) -> Setup:
    """Return the calibration for a take through a device; an unreadable one is reported and ignored."""
    try:
        known = read_calibrations()
    except CoachError as error:
        return Setup(notice=Notice(Code.NOT_CALIBRATED, (error,)))
    return find_setup({**known.get(THIS_COMPUTER, {}), **known.get(device, {})}, observed_by)


def _delay(values: dict[str, Any]) -> dict[str, Any]:
    return {
        "delay_ms": _ms(values["mean"]),
        "ci95_ms": [_ms(values["low"]), _ms(values["high"])],
        "spread_ms": _ms(values["spread"]),
        "n": values["n"],
    }


def _ms(seconds: float) -> float:
    if not math.isfinite(seconds):
        raise ValueError(f"expected a finite number of seconds, got {seconds}")
    return round(1000 * seconds, 4)

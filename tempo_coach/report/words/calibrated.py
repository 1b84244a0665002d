"""Delays that were measured for a calibration, in words, and what a person has to do for each."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tempo_coach.languages import tr
from tempo_coach.report.words.amounts import say_decimal

if TYPE_CHECKING:
    from collections.abc import Mapping

#: What is done in each step, beside its progress.
DOING = {
    "stamps": "testing the stamps of keys",
    "loop": "listening to chirps",
    "strokes": "listening to strokes",
    "taps": "taking in taps",
    "knock": "listening to knocks",
}
#: What she has to do for it.
TO_DO = {
    "loop": ("Chirps come from the loudspeaker now; keep quiet.",),
    "strokes": ("Chirps first; after them strike one key about once a second, at least 15 times.",),
    "taps": ("Listen to four clicks, then tap one key with every click until they end.",),
    "knock": (
        "Chirps first; after them knock at least 12 times, about once a second: on the table where phones lie that",
        "are worn, and with a knuckle on the field of each phone that is tapped.",
    ),
}


def format_calibration(devices: Mapping[str, Mapping[str, Any]]) -> str:
    """Return what was measured of each device, a few lines each.

    Parameters
    ----------
    devices : mapping
        Measurements by their kind, by device, as :mod:`tempo_coach.live.setup.calibration` keeps them.
    """
    return "\n".join(line for device, measured in devices.items() for line in _say_device(device, measured))


def _say_device(device: str, measured: Mapping[str, Any]) -> list[str]:
    lines = [tr(device)]
    if (found := measured.get("stamps")) is not None:
        lines.append(
            tr(
                "  stamps   a key is stamped {delay_ms:.2f} ms after it arrives, SD {spread_ms:.2f} ms",
                delay_ms=found["delay_ms"],
                spread_ms=found["spread_ms"],
            )
        )
    if (found := measured.get("loop")) is not None:
        each = ", ".join(say_decimal(one, ".1f") for one in found["openings_ms"])
        lines.append(
            tr(
                "  loop     loudspeaker to microphone {loop_ms:.1f} ms (openings: {each})",
                loop_ms=found["loop_ms"],
                each=each,
            )
        )
    if (found := measured.get("strokes")) is not None:
        lines.append(
            tr(
                "  strokes  stamps come {with_interval} after the stroke; no person in it",
                with_interval=_with_interval(found, "delay_ms", "ci95_ms"),
            )
        )
    if (found := measured.get("knock")) is not None:
        lines.append(
            tr(
                "  knocks   they come {with_interval} after they were heard; taken out",
                with_interval=_with_interval(found, "delay_ms", "ci95_ms"),
            )
        )
    if (found := measured.get("taps")) is not None:
        lines.append(
            tr(
                "  taps     they come {with_interval} after the clicks, {n} taps",
                with_interval=_with_interval(found, "delay_ms", "ci95_ms"),
                n=found["n"],
            )
        )
        lines.append(
            tr("           tapping cannot tell a person's own lead from the setup's delay. People lead by 25 ms or so;")
        )
        lines.append(
            tr(
                "           then the setup adds {with_interval}: that is taken out.",
                with_interval=_with_interval(found, "setup_ms", "setup_ci95_ms"),
            )
        )
    return lines


def _with_interval(found: Mapping[str, Any], key: str, interval: str) -> str:
    low, high = found[interval]
    return tr("{found:.1f} ms (95 %: {low:.1f} to {high:.1f})", found=found[key], low=low, high=high)

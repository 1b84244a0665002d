"""Calibration: the delays of keys, loudspeaker, microphone and phones measured step by step, and kept.

What is shown meanwhile is the front end's: ``begin`` is told which step begins and gives what its progress goes to.
"""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Literal

from tempo_coach.coach.looking_back import now
from tempo_coach.errors import CoachError
from tempo_coach.live.setup.calibration import (
    PHONE,
    THIS_COMPUTER,
    calibration_file,
    find_setup,
    keep_calibration,
    read_calibrations,
    to_plain,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from contextlib import AbstractContextManager

    from tempo_coach.live.notices import Notice
    from tempo_coach.live.phones.link import Phones

    #: A step of the measurement.
    Step = Literal["stamps", "loop", "strokes", "taps", "knock"]
    Begin = Callable[[Step], AbstractContextManager[Callable[[float], None]]]
    #: A device, what was measured of it, and the values.
    Measured = tuple[str, str, dict[str, Any]]

__all__ = [
    "calibration_file",
    "find_changes",
    "hands_of_knocks",
    "keep_calibration",
    "measure",
    "measure_phones",
    "read_calibrations",
    "saying_what_failed",
]


def measure(
    *,
    device: str | None,
    microphone: str | None,
    clicks: int,
    openings: int,
    terminal: int | None,
    begin: Begin,
    untested: Callable[[CoachError], None],
) -> Iterator[Measured]:
    """Yield the stamps of keys, with a microphone the loop of the loudspeaker, and in a terminal strokes or taps.

    Parameters
    ----------
    device, microphone : str or None
        Parts of the names of loudspeaker and microphone; without a microphone a person taps to clicks.
    clicks, openings : int
    terminal : int or None
        Its file descriptor; None without one.
    begin : callable
    untested : callable
        Told why the stamps could not be tested.

    Raises
    ------
    CoachError, SoundFailed
        If a device fails, or too little was heard or tapped.
    """
    from tempo_coach.live.audio.engine import Engine
    from tempo_coach.live.setup import measuring

    begun = now()

    def open_sound() -> Engine:
        return Engine(device=device, microphone=microphone)

    try:
        with begin("stamps"):
            stamps = measuring.measure_stamps()
    except CoachError as error:
        untested(error)
    else:
        yield THIS_COMPUTER, "stamps", to_plain(stamps, begun=begun)
    if microphone is not None:
        with begin("loop") as progress:
            name, loop = measuring.measure_loop(open_sound, openings=openings, progress=progress)
        yield name, "loop", to_plain(loop, begun=begun)
    if terminal is None:
        return
    engine = open_sound()
    try:
        if microphone is not None:
            with begin("strokes") as progress:
                strokes = measuring.measure_strokes(engine, terminal, progress=progress)
            yield engine.name, "strokes", to_plain(strokes, begun=begun)
        else:
            with begin("taps") as progress:
                taps = measuring.measure_taps(engine, terminal, clicks=clicks, progress=progress)
            yield engine.name, "taps", to_plain(taps, begun=begun)
    finally:
        engine.close()


def measure_phones(phones: Phones, *, device: str | None, microphone: str | None, begin: Begin) -> Iterator[Measured]:
    """Yield the delay of each phone that observes, by knocks that the microphone hears too.

    Raises
    ------
    CoachError, SoundFailed
        If a device fails, or too little was heard.
    """
    from tempo_coach.live.audio.engine import Engine
    from tempo_coach.live.setup import measuring

    begun = now()
    with begin("knock") as progress:
        engine = Engine(device=device, microphone=microphone or "")
        try:
            found = measuring.measure_phones(engine, phones, progress=progress)
        finally:
            engine.close()
    for name, delay in found.items():
        yield f"{PHONE}{name}", "knock", to_plain(delay, begun=begun)


def hands_of_knocks() -> tuple[str, ...]:
    """Return the hands of the plan that knocks are held against."""
    from tempo_coach.live.setup import measuring

    return measuring.plan_of_knocks().hands


def find_changes(known: dict[str, dict[str, Any]]) -> Iterator[tuple[str, Notice]]:
    """Yield the devices of which something has to be said, with that."""
    for device, measured in known.items():
        notice = find_setup(measured, "tap").notice
        if notice is not None:
            yield device, notice


@contextmanager
def saying_what_failed() -> Iterator[None]:
    """Make an error of a person's out of sound that fails meanwhile."""
    from tempo_coach.live.notices import SoundFailed

    try:
        yield
    except SoundFailed as failed:
        raise CoachError(
            "calibration.no_sound", notice=failed.notice.code, arguments=failed.notice.arguments
        ) from failed

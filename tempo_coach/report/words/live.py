"""Words for what happens while she practises: troubles, keys, claps, calibrations, files of takes, steps of tempo."""

from __future__ import annotations

import errno
from typing import TYPE_CHECKING

from tempo_coach.pattern.drill.drill import TempoChange
from tempo_coach.report.words.errors import message_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from tempo_coach.pattern.drill.drill import TempoStep, TempoSteps


def say_notice(code: str, arguments: tuple[object, ...] = ()) -> str:
    """Return a notice as a sentence.

    Parameters
    ----------
    code : str
        One of ``NOTICES``, as :mod:`tempo_coach.live.notices` lists them with their arguments.

    Examples
    --------
    >>> say_notice("key taken", ("left",))
    'That is the key for left already: take another one.'
    """
    return NOTICES[code](*arguments)


def _say_refused(rate_hz: int = 0, offers_hz: int | None = None) -> str:
    instead = f"; it offers {offers_hz}" if offers_hz and offers_hz != rate_hz else ""
    return f"No sound: the device refused two channels at {rate_hz} samples a second{instead}."


def say_no_port(where: str, code: int | None) -> str:
    """Return why nothing can listen at an address and port, told the system's code."""
    if code == errno.EADDRINUSE:
        return f"Nothing listens for phones: {where} is taken; name another port behind the address."
    if code == errno.EADDRNOTAVAIL:
        return f"Nothing listens for phones: this computer does not have the address {where}; doctor lists them."
    return f"Nothing listens for phones: the system refused {where}."


NOTICES: dict[str, Callable[..., str]] = {
    "no library": "No sound: the PortAudio library is not installed (Debian calls it libportaudio2).".format,
    "no device": "No sound: no output device is there; plug one in or start the sound server.".format,
    "refused": _say_refused,
    "not opened": "No sound: the device could not be opened; it may be in use or not answering.".format,
    "lost": "The sound went away: device unplugged or server ended. The take is paused and kept.".format,
    "frozen": "The sound stopped moving: the device does not answer. The take is paused and kept.".format,
    "no room": "No sound: the samples cannot be written; the disk is full or the folder read-only.".format,
    "back": "The sound is back: the take can go on.".format,
    "gap": "Some sound was lost here; that stretch is not measured.".format,
    "no microphone": "The microphone cannot be opened: the take goes on without it.".format,
    "silent": "No sound was asked for.".format,
    "key leads": "That key leads through the screens: take another one.".format,
    "key taken": "That is the key for {} already: take another one.".format,
    "keys too soon": "Keys pressed before the sound had begun are in no take: {}.".format,
    "clap awaited": "Clap to begin, or press Enter.".format,
    "clap: no library": ("No clap can be heard: the sound library PortAudio is not installed. Enter begins.").format,
    "clap: refused": "No clap can be heard: {}. Enter begins.".format,
    "clap: listener gone": "No clap can be heard: the microphone could not be listened to. Enter begins.".format,
    "clap: no pipes": "No clap can be heard: this system has no way of waiting for one. Enter begins.".format,
    "not calibrated": lambda error: f"Not calibrated: {message_of(error)}.",
    "delay changes": (
        "This device's delay changed by {:.0f} ms between openings: calibrate at each start, or use a wire."
    ).format,
    "latency unknown": (
        "This machine is so busy that its sound device contradicts itself: lengths and lags are right, how far from "
        "the music is not known. Close other programs and play once more."
    ).format,
    "lines unread": "Lines came that cannot be read: an onset is TIME,HAND, as in 12.5,left.".format,
    "lines over": "No more lines come: whatever printed them has ended.".format,
    "pad strange": "A pad was hit that is no hand's: {}.".format,
    "phones: refused": say_no_port,
    "phones: server gone": "The server for phones ended: the take goes on without them.".format,
    "phone asks": "A phone that shows {} asks to be let in: F6.".format,
    "phone silent": "Nothing comes from the phone of {}: what it notices is kept there.".format,
    "phone back": "The phone of {} is back.".format,
    "phone hidden": "The phone of {} is locked or shows something else: that is a gap.".format,
    "phone's clock jumped": "The clock of {}'s phone jumped or stood still: taps around it are left out.".format,
    "phone: no motion": "The browser of {}'s phone tells no motion: let it tap or count, or take another one.".format,
    "phone: no wake lock": "The phone of {} cannot keep its screen awake: set its lock to the longest time.".format,
    "rows awaited": "Something is still to come from a phone: the take is judged again when it does.".format,
    "rows came": "What came later from a phone was added, and the take was judged again.".format,
}

#: Why a take cannot be written, by the system's code.
_UNWRITTEN = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "the disk is full",
    errno.EROFS: "the folder is read-only",
    errno.EACCES: "the folder is read-only",
    errno.EPERM: "the folder is read-only",
    errno.EEXIST: "a file of that name exists and is not overwritten",
}


def why_unwritten(failure: OSError) -> str:
    """Return why a take's file does not take what is tapped."""
    return _UNWRITTEN.get(failure.errno or 0, str(failure.strerror or failure))


def say_playing(name: str) -> str:
    """Return what a take is heard through."""
    return f"Playing through {name}."


def say_silent(why: str, name: str) -> str:
    """Return that a take runs without sound, why if that is known, and on which clock."""
    return f"{why or 'Without sound.'} Running on the {name}."


def say_caution(caution: str) -> str:
    """Return what she has to mind; empty where nothing is."""
    return f"Mind: {caution}." if caution else ""


def say_rule(steps: TempoSteps | None) -> str:
    """Return the rule in one sentence; empty without steps.

    Examples
    --------
    >>> from tempo_coach.pattern.drill.drill import TempoSteps
    >>> say_rule(TempoSteps(60, 120, step=4, steady_takes=2))
    'Up 4 after 2 steady takes in a row, down 4 after one that was not, 120 at most.'
    """
    if steps is None:
        return ""
    takes = "a steady take" if steps.steady_takes == 1 else f"{steps.steady_takes} steady takes in a row"
    return (
        f"Up {steps.step:g} after {takes}, down {steps.step:g} after one that was not, {_say(steps.highest)} at most."
    )


def say_step(step: TempoStep | None) -> str:
    """Return what the rule did after a take, and why; empty before the first.

    Examples
    --------
    >>> from tempo_coach.pattern.drill.drill import TempoSteps
    >>> say_step(TempoSteps(60, 120).after(100, [True]))
    'Stay at 100: 1 more steady one to go up.'
    """
    if step is None:
        return ""
    tempo = _say(step.tempo_bpm)
    steady = "A steady take" if step.takes == 1 else f"{step.takes} steady takes in a row"
    match step.move:
        case TempoChange.UP:
            return f"{steady}: up to {tempo}."
        case TempoChange.HIGHEST:
            return f"{steady}: {tempo} is the highest already."
        case TempoChange.DOWN:
            return f"That one was not steady: down to {tempo}."
        case TempoChange.LOWEST:
            return f"That one was not steady: {tempo} is the lowest already."
        case TempoChange.STAY:
            return f"Stay at {tempo}: {step.takes} more steady one{'s' if step.takes > 1 else ''} to go up."


def _say(tempo_bpm: float) -> str:
    return f"{round(tempo_bpm, 1):g}"

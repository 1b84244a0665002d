"""Words for what happens while she practises: troubles, keys, claps, calibrations, files of takes, steps of tempo."""

from __future__ import annotations

import errno
from typing import TYPE_CHECKING

from tempo_coach.languages import tr
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
    words = NOTICES[code]
    return tr(words, *map(_said, arguments)) if isinstance(words, str) else words(*arguments)


def _said(argument: object) -> object:
    return tr(argument) if argument in ("left", "right") else argument


def _say_refused(rate_hz: int = 0, offers_hz: int | None = None) -> str:
    return tr(
        "No sound: the device refused two channels at {rate_hz} samples a second; it offers {offers_hz}."
        if offers_hz and offers_hz != rate_hz
        else "No sound: the device refused two channels at {rate_hz} samples a second.",
        rate_hz=rate_hz,
        offers_hz=offers_hz,
    )


def _say_other_rate(rate_hz: int, plays_hz: int) -> str:
    return tr(
        "The device plays {plays_hz} samples a second for {rate_hz}: the tempo is wrong. The take is paused and kept.",
        plays_hz=plays_hz,
        rate_hz=rate_hz,
    )


def say_no_port(where: str, code: int | None) -> str:
    """Return why nothing can listen at an address and port, from the system's code."""
    if code == errno.EADDRINUSE:
        return tr("Nothing listens for phones: {where} is taken; name another port behind the address.", where=where)
    if code == errno.EADDRNOTAVAIL:
        return tr(
            "Nothing listens for phones: this computer does not have the address {where}; doctor lists them.",
            where=where,
        )
    return tr("Nothing listens for phones: the system refused {where}.", where=where)


#: What is said of each code: a form that its arguments are put into, or a function of them.
NOTICES: dict[str, str | Callable[..., str]] = {
    "no library": "No sound: the PortAudio library is not installed (Debian calls it libportaudio2).",
    "no device": "No sound: no output device is there; plug one in or start the sound server.",
    "refused": _say_refused,
    "not opened": "No sound: the device could not be opened; it may be in use or not answering.",
    "lost": "The sound went away: device unplugged or server ended. The take is paused and kept.",
    "frozen": "The sound stopped moving: the device does not answer. The take is paused and kept.",
    "other rate": _say_other_rate,
    "no room": "No sound: the samples cannot be written; the disk is full or the folder read-only.",
    "back": "The sound is back: the take can go on.",
    "gap": "Some sound was lost here; that stretch is not measured.",
    "no microphone": "The microphone cannot be opened: the take goes on without it.",
    "silent": "No sound was asked for.",
    "key leads": "That key leads through the screens: take another one.",
    "key taken": "That is the key for {} already: take another one.",
    "keys too soon": "Keys pressed before the sound had begun are in no take: {}.",
    "clap awaited": "Clap to begin, or press Enter.",
    "clap: no library": "No clap can be heard: the sound library PortAudio is not installed. Enter begins.",
    "clap: refused": "No clap can be heard: {}. Enter begins.",
    "clap: listener gone": "No clap can be heard: the microphone could not be listened to. Enter begins.",
    "clap: no pipes": "No clap can be heard: this system has no way of waiting for one. Enter begins.",
    "not calibrated": lambda error: tr("Not calibrated: {message_of}.", message_of=message_of(error)),
    "delay changes": (
        "This device's delay changed by {:.0f} ms between openings: calibrate at each start, or use a wire."
    ),
    "latency unknown": (
        "This machine is so busy that its sound device contradicts itself: lengths and lags are right, how far from "
        "the music is not known. Close other programs and play once more."
    ),
    "lines unread": "Lines came that cannot be read: an onset is TIME,HAND, as in 12.5,left.",
    "lines over": "No more lines come: whatever printed them has ended.",
    "pad strange": "A pad was hit that is no hand's: {}.",
    "phones: refused": say_no_port,
    "phones: server gone": "The server for phones ended: the take goes on without them.",
    "phone asks": "A phone that shows {} asks to be let in: F6.",
    "phone silent": "Nothing comes from the phone of {}: what it notices is kept there.",
    "phone back": "The phone of {} is back.",
    "phone hidden": "The phone of {} is locked or shows something else: that is a gap.",
    "phone's clock jumped": "The clock of {}'s phone jumped or stood still: taps around it are left out.",
    "phone: no motion": "The browser of {}'s phone tells no motion: let it tap or count, or take another one.",
    "phone: no wake lock": "The phone of {} cannot keep its screen awake: set its lock to the longest time.",
    "rows awaited": "Something is still to come from a phone: the take is judged again when it does.",
    "rows came": "What came later from a phone was added, and the take was judged again.",
}

#: What is measured of keys alone, whatever sounds.
MEASURED = {"this computer": "this computer"}
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
    """Return why a take's file cannot be written."""
    return tr(_UNWRITTEN.get(failure.errno or 0, str(failure.strerror or failure)))


def say_playing(name: str) -> str:
    """Return the device that plays a take."""
    return tr("Playing through {name}.", name=tr(name))


def say_silent(why: str) -> str:
    """Return that a take runs without sound, and the reason if known."""
    return f"{why or tr('Without sound.')} {tr('Running on the silent clock.')}"


def say_caution(caution: str) -> str:
    """Return what she has to beware of; empty without anything."""
    return tr("Mind: {caution}.", caution=tr(caution)) if caution else ""


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
    takes = (
        tr("a steady take")
        if steps.steady_takes == 1
        else tr("{steady_takes} steady takes in a row", steady_takes=steps.steady_takes)
    )
    return tr(
        "Up {step:g} after {takes}, down {step:g} after one that was not, {say} at most.",
        step=steps.step,
        takes=takes,
        say=_say(steps.highest),
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
    steady = tr("A steady take") if step.takes == 1 else tr("{takes} steady takes in a row", takes=step.takes)
    match step.move:
        case TempoChange.UP:
            return tr("{steady}: up to {tempo}.", steady=steady, tempo=tempo)
        case TempoChange.HIGHEST:
            return tr("{steady}: {tempo} is the highest already.", steady=steady, tempo=tempo)
        case TempoChange.DOWN:
            return tr("That one was not steady: down to {tempo}.", tempo=tempo)
        case TempoChange.LOWEST:
            return tr("That one was not steady: {tempo} is the lowest already.", tempo=tempo)
        case TempoChange.STAY:
            return (
                tr("Stay at {tempo}: {takes} more steady ones to go up.", tempo=tempo, takes=step.takes)
                if step.takes > 1
                else tr("Stay at {tempo}: {takes} more steady one to go up.", tempo=tempo, takes=step.takes)
            )


def _say(tempo_bpm: float) -> str:
    return f"{round(tempo_bpm, 1):g}"

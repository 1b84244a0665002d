"""Errors of devices, calibrations and cue sounds, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.report.words.errors.forms import or_else

if TYPE_CHECKING:
    from tempo_coach.report.words.errors.forms import Entry


def _say_devices(there: tuple[str, ...]) -> str:
    return (
        tr("there is {there}", there=there[0]) if len(there) == 1 else tr("there are {names}", names=", ".join(there))
    )


def _say_ports(found: tuple[str, ...], several: bool) -> str:
    if not found:
        return tr("there is none: plug the device in")
    return f"{tr('several have it') if several else tr('there are')}: {', '.join(found)}"


def _say_streams(found: tuple[str, ...]) -> str:
    return (
        tr("there are {names}", names=", ".join(found)) if found else tr("start its sender first; there is none at all")
    )


def _say_not_bound(address: str, errno: int | None) -> str:
    from tempo_coach.report.words.live import say_no_port  # it tells errors itself

    return say_no_port(address, errno).rstrip(".")


WORDS: dict[str, Entry] = {
    "stamps.no_terminal": "keys cannot be stamped one by one in this system's terminals",
    "mix.too_long": (
        "this goes on for {minutes:.0f} minutes; up to {most_minutes:.0f} of sound are made at once",
        "ask for fewer cycles or eights",
    ),
    "cue_sound.missing": ("the cue sound {name} is missing", "install tempo_coach again"),
    "voice.unknown": (
        "expected a folder of recorded words or a language ({languages}), got {name}",
        or_else("the folder holds one sound file for each word, such as one.wav"),
    ),
    "spoken.columns": ("expected the columns word and sample (a whole number)", "or leave the table out"),
    "calibration.unreadable": ("this is no calibration", "delete it, then calibrate again"),
    "calibration.version": "expected a calibration of version {known}, found {version!r}",
    "calibration.not_written": "the calibration cannot be written ({reason})",
    "chirps.not_heard": (
        "the chirps were not heard by the microphone",
        "turn the loudspeaker up, unplug headphones, put the microphone near the loudspeaker",
    ),
    "calibration.few_taps": (
        "expected at least {least} clicks answered by one tap each, found {answered}",
        "listen to the first four clicks, then tap one key with every click",
    ),
    "calibration.few_strokes": (
        "expected at least {least} strokes that can be heard, found {heard}",
        "strike the key harder, one stroke a second, the microphone beside the keyboard",
    ),
    "knocks.contradict": (
        "{n} knocks tell the delay within ±{half_ms:.0f} ms only, and ±{most_ms:.0f} is needed",
        "knock again, evenly and nowhere else, and close other programs",
    ),
    "stamps.untestable": "this system has no terminal that the stamps could be tested on",
    "stamps.not_started": "the process that stamps keys cannot be started",
    "stamps.no_answer": "the process that stamps keys does not answer",
    "stamps.key_lost": "a key was lost on its way through the terminal",
    "microphone.silent": ("the microphone took nothing", "tempo-coach doctor names the devices there are"),
    "chirps.too_quiet": ("the chirps were not heard by the microphone", "turn the loudspeaker up"),
    "terminal.gone": "the terminal went away",
    "microphone.not_opened": ("the microphone cannot be opened", "tempo-coach doctor names the devices there are"),
    "device.not_playing": "the device does not begin to play",
    "device.no_loudspeaker": ("expected part of the name of a loudspeaker, got {name!r}", _say_devices),
    "device.no_microphone": ("expected part of the name of a microphone, got {name!r}", _say_devices),
    "osc.not_installed": ("Open Sound Control needs python-osc", "pip install 'tempo_coach[osc]'"),
    "osc.not_bound": ("nothing can listen at {address} ({reason})", "name another port"),
    "midi.not_installed": ("MIDI needs python-rtmidi", "pip install 'tempo_coach[midi]'"),
    "midi.not_opened": (
        "MIDI cannot be opened here ({reason})",
        "plug the device in, and see that no other program has it",
    ),
    "midi.no_port": ("expected part of the name of one port of MIDI, got {given!r}", _say_ports),
    "lsl.not_installed": ("Lab Streaming Layer needs pylsl", "pip install 'tempo_coach[lsl]'"),
    "lsl.no_library": ("Lab Streaming Layer's library cannot be loaded ({reason})", "install liblsl for this system"),
    "lsl.no_stream": ("nobody in this network gives a stream named {given!r}", _say_streams),
    "lines.not_opened": ("it cannot be read ({reason})", "name a pipe, a serial device, or - for standard input"),
    "lines.plain_file": (
        "expected something that prints while she moves, found a file",
        "tempo-coach score reads a table of what was done",
    ),
    "lines.no_terminal": (
        "standard input gives the lines, and there is no terminal to read keys from",
        "start it in a terminal",
    ),
    "phones.not_installed": (
        "phones need what is not installed here: {missing}",
        "pip install 'tempo_coach[phones]'",
    ),
    "phones.no_network": (
        "this computer is in no network that a phone could reach",
        "join one with the phones, or let a phone be the hotspot of the others and of this computer",
    ),
    "phones.not_bound": _say_not_bound,
    "phones.no_address": (
        "expected one address such as 192.168.0.5, got {given}",
        "tempo-coach doctor lists this computer's",
    ),
    "phones.no_port": "expected a port from 1 to 65535, got {port}",
}

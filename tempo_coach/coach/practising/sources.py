"""Live inputs as they are named: what each option of ``practise`` opens, and why it cannot be opened."""

from __future__ import annotations

import os
from importlib.util import find_spec
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.live.inputs.source import LiveSource

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from tempo_coach.live.inputs.lines import LineReader
    from tempo_coach.live.inputs.lsl import LabReader
    from tempo_coach.live.inputs.osc import OscListener
    from tempo_coach.live.inputs.pads import MidiListener
    from tempo_coach.live.phones.link import Phones

__all__ = ["FIND", "OPENERS", "LiveSource", "open_lines", "open_lsl", "open_midi", "open_osc", "open_phones"]
#: Seconds in which a stream has to be found.
FIND = 5.0


def open_osc(given: str, _hands: tuple[str, ...] = ()) -> OscListener:
    """Open an Open Sound Control port, on this machine only or at one of its addresses.

    Parameters
    ----------
    given : str
        ``PORT`` or ``A:PORT``.

    Raises
    ------
    CoachError
        If the extra is not installed, or nothing can listen there.
    """
    from tempo_coach.live.inputs.osc import OscListener
    from tempo_coach.live.phones.addresses import read_address

    if find_spec("pythonosc") is None:
        raise CoachError("osc.not_installed", where="--osc")
    host, port = read_address(given if ":" in given else f"127.0.0.1:{given}", where="--osc")
    try:
        return OscListener(host, port)
    except OSError as error:
        raise CoachError("osc.not_bound", where="--osc", address=f"{host}:{port}", reason=error.strerror) from error


def open_lines(given: str, _hands: tuple[str, ...] = ()) -> LineReader:
    """Open lines from a pipe or a serial device, or from standard input beside the terminal's keys.

    Parameters
    ----------
    given : str
        A path, or ``-``.

    Raises
    ------
    CoachError
        If it cannot be read, is a file, or there is no terminal for the keys.
    """
    from pathlib import Path

    from tempo_coach.live.inputs.lines import LineReader

    if given == "-":
        lines = os.dup(0)
        try:
            terminal = os.open("/dev/tty", os.O_RDWR)
        except OSError as error:
            os.close(lines)
            raise CoachError("lines.no_terminal", where="--lines") from error
        os.dup2(terminal, 0)
        os.close(terminal)
        return LineReader(lines)
    try:
        if Path(given).is_file():
            raise CoachError("lines.plain_file", where=given)
        # A pipe that nobody writes into yet is opened at once, and stays open when a writer goes and another comes.
        opened = os.open(given, os.O_RDWR | getattr(os, "O_NOCTTY", 0))
    except OSError as error:
        raise CoachError("lines.not_opened", where=given, reason=error.strerror) from error
    if os.isatty(opened):
        import tty

        tty.setraw(opened)  # a serial device hands on what comes, and echoes nothing
    return LineReader(opened)


def open_midi(given: str, hands: tuple[str, ...]) -> MidiListener:
    """Open a MIDI port.

    Parameters
    ----------
    given : str
        Part of its name.
    hands : tuple of str
        Those of the drill.

    Raises
    ------
    CoachError
        If the extra is not installed, this system has no MIDI, or no port or more than one has that name.
    """
    if find_spec("rtmidi") is None and "MIDO_BACKEND" not in os.environ:
        raise CoachError("midi.not_installed", where="--midi")
    import mido

    from tempo_coach.live.inputs.pads import MidiListener

    try:
        names = list(dict.fromkeys(mido.get_input_names()))
        found = [name for name in names if given.lower() in name.lower()]
        if len(found) != 1 and given not in found:
            raise CoachError("midi.no_port", where="--midi", given=given, found=found or names, several=len(found) > 1)
        return MidiListener(given if given in found else found[0], hands)
    except (OSError, ImportError) as error:
        raise CoachError("midi.not_opened", where="--midi", reason=str(error)) from error


def open_lsl(given: str, _hands: tuple[str, ...] = (), *, seconds: float = FIND) -> LabReader:
    """Open a Lab Streaming Layer stream in this network.

    Parameters
    ----------
    given : str
        Its name.
    seconds : float
        In which it has to be found.

    Raises
    ------
    CoachError
        If the extra is not installed, or nobody gives such a stream.
    """
    if find_spec("pylsl") is None:
        raise CoachError("lsl.not_installed", where="--lsl")
    from tempo_coach.live.inputs.lsl import LabReader

    try:
        import pylsl
    except (OSError, RuntimeError) as error:
        raise CoachError("lsl.no_library", where="--lsl", reason=str(error)) from error
    found = pylsl.resolve_byprop("name", given, timeout=seconds)
    if not found:
        there = sorted({each.name() for each in pylsl.resolve_streams(1.0)})
        raise CoachError("lsl.no_stream", where="--lsl", given=given, found=there)
    return LabReader(found[0])


def open_phones(address: str | None, *, calibrated: bool = True, members: bool = False) -> Phones:
    """Open the server for phones at one of this machine's addresses.

    Parameters
    ----------
    address : str or None
        ``A`` or ``A:PORT``; None for the first one that a phone can reach.
    calibrated : bool
        Whether the delays of phones that were measured are taken out.
    members : bool
        Whether what is noticed is of each name by itself; else all of it is one take.

    Raises
    ------
    CoachError
        If the extra is not installed, there is no network, or this machine does not have that address.
    """
    from tempo_coach.live.phones.addresses import PORT, can_bind, list_addresses, read_address
    from tempo_coach.live.phones.link import Phones
    from tempo_coach.live.setup.calibration import phone_latency

    missing = [name for name in ("aiohttp", "cryptography", "segno") if find_spec(name) is None]
    if missing:
        raise CoachError("phones.not_installed", where="--phones", missing=missing)
    if address is None:
        found = list_addresses()
        if not found:
            raise CoachError("phones.no_network", where="--phones")
        host, port = found[0], PORT
    else:
        host, port = read_address(address)
    why = can_bind(host, port)
    if why is not None:
        raise CoachError("phones.not_bound", where="--address", address=f"{host}:{port}", errno=why.errno)
    return Phones(host, port, latency_of=phone_latency if calibrated else None, members=members)


#: What opens each, by its option; told what was given with it and the drill's hands.
OPENERS: Mapping[str, Callable[[str, tuple[str, ...]], LiveSource]] = {
    "osc": open_osc,
    "lines": open_lines,
    "midi": open_midi,
    "lsl": open_lsl,
}

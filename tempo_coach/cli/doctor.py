"""``tempo-coach doctor``: what works on this machine, and the next step for what does not."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from tempo_coach.cli.options import add_json, examples
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Iterator


class Checkup(NamedTuple):
    """The result of one check: whether it works, what was found, and the remedy."""

    what: str
    works: bool
    found: str
    next_step: str = ""


#: Folders that come with the program, and a person's own.
SHARED_WORDS = ("drills", "sounds")
OWN_WORDS = ("takes", "history", "cache")


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr(
        "Look at what this computer has for sound, screen, films and printing, and where takes are kept; say what "
        "works and what to do about the rest. Nothing is changed."
    )
    parser.epilog = examples("tempo-coach doctor")
    add_json(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from tempo_coach.cli.output import print_json

    findings = [finding for look in _LOOKS for finding in look()]
    if args.json:
        print_json({finding.what: {k: v for k, v in finding._asdict().items() if k != "what"} for finding in findings})
        return 0
    width = max(len(tr(finding.what)) for finding in findings)
    for finding in findings:
        state = tr("works  ") if finding.works else tr("MISSING")
        print(f"{state:<7}  {tr(finding.what):<{width}}  {finding.found}")
        if not finding.works and finding.next_step:
            print(f"{'':7}  {'':{width}}  -> {finding.next_step}")
    missing = sum(not finding.works for finding in findings)
    print(f"\n{tr('Everything works.') if not missing else tr('The rest works without what is missing.')}")
    return 0


def _look_at_versions() -> Iterator[Checkup]:
    import platform

    from tempo_coach import __version__

    yield Checkup(
        "tempo_coach",
        True,
        tr(
            "{version} on Python {python_version}, {system}",
            version=__version__,
            python_version=platform.python_version(),
            system=platform.system(),
        ),
    )
    for name, least in _needed(""):
        yield _look_at_library(name, least, f"pip install '{name}>={least}'")


def _needed(extra: str) -> Iterator[tuple[str, str]]:
    """Yield name and oldest version of each requirement of the installed program."""
    import re
    from importlib.metadata import PackageNotFoundError, requires

    try:
        lines = requires("tempo_coach") or []
    except PackageNotFoundError:  # it runs from a copy that was never installed
        lines = []
    for line in lines:
        found = re.match(r"([\w-]+)>=([\w.]+)(?:; extra == [\"'](\w+)[\"'])?$", line)
        if found and (found.group(3) or "") == extra:
            yield found.group(1), found.group(2)


def _look_at_library(name: str, least: str, next_step: str) -> Checkup:
    import re
    from importlib.metadata import PackageNotFoundError, version

    try:
        there = version(name)
    except PackageNotFoundError:
        return Checkup(name, False, tr("not installed"), next_step)
    old = [int(part) for part in re.findall(r"\d+", there)] < [int(part) for part in re.findall(r"\d+", least)]
    if old:
        return Checkup(
            name, False, tr("{there}, which is too old: {least} is needed", there=there, least=least), next_step
        )
    return Checkup(name, True, there)


def _look_at_sound() -> Iterator[Checkup]:
    from tempo_coach.coach.machine import list_devices
    from tempo_coach.report.words.live import say_notice

    devices = list_devices()
    step = tr("Debian: apt install libportaudio2; Fedora: dnf install portaudio; then plug in a device")
    none = say_notice(devices.trouble) if devices.trouble is not None else ""
    yield Checkup(tr("sound out"), bool(devices.outputs), ", ".join(devices.outputs[:3]) or none, step)
    yield Checkup(
        "microphone",
        bool(devices.inputs),
        ", ".join(devices.inputs[:3]) or tr("no microphone"),
        tr("plug one in to log claps, contacts or the voice; taps and films work without it"),
    )
    yield from look_at_load()


def look_at_load() -> Iterator[Checkup]:
    """Yield whether sound has priority here, and how busy the machine is."""
    import os
    import sys

    from tempo_coach.coach.machine import PRIORITY, has_priority

    if sys.platform.startswith("linux"):
        given = has_priority()
        yield Checkup(
            tr("sound first"),
            given,
            tr("real-time priority is given") if given else tr("no real-time priority: a busy machine may lose sound"),
            tr(
                "as root: a line '@audio - rtprio {priority}' or higher in /etc/security/limits.d/audio.conf, "
                "yourself in the group audio, and log in again",
                priority=PRIORITY,
            ),
        )
    if hasattr(os, "getloadavg"):
        load, cores = os.getloadavg()[0], os.cpu_count() or 1
        yield Checkup(
            "load",
            load <= 2 * cores,
            tr("{load:.1f} on {cores} cores", load=load, cores=cores),
            tr("close other programs before you practise: sound may be lost, and taps are placed less exactly"),
        )


def _look_at_terminal() -> Iterator[Checkup]:
    import os
    import shutil
    import sys
    import time

    from tempo_coach.signs import in_encoding

    size = shutil.get_terminal_size((0, 0))
    real = sys.stdout.isatty()
    yield Checkup(
        "terminal",
        not real or (size.columns >= 80 and size.lines >= 24),
        tr("{columns} columns, {lines} rows", columns=size.columns, lines=size.lines)
        if real
        else tr("not asked: the output goes elsewhere"),
        tr("make the window at least 80 columns wide and 24 rows high"),
    )
    encoding = sys.stdout.encoding or "ascii"
    lacks = any(in_encoding(letter, encoding) != letter for letter in "äéñœ│●")
    yield Checkup(
        "letters",
        not lacks,
        tr("{encoding} lacks some: plain ones stand for them", encoding=encoding) if lacks else encoding,
        tr("set the terminal and LANG to UTF-8"),
    )
    colour = tr("off, as NO_COLOR asks") if os.environ.get("NO_COLOR") else tr("on; NO_COLOR=1 turns it off")
    yield Checkup("colour", True, colour)
    clock = time.get_clock_info("perf_counter")
    yield Checkup(
        tr("key stamps"),
        clock.monotonic and clock.resolution <= 1e-3,
        tr("clock steps of {resolution:.3g} µs", resolution=clock.resolution * 1000000.0),
        tr("stamps will be coarse on this system: use a film or a sensor for timing"),
    )


def _look_at_film() -> Iterator[Checkup]:
    step = "pip install 'tempo_coach[film]'"
    looked = [_look_at_library(name, least, step) for name, least in _needed("film")]
    missing = [each for each in looked if not each.works]
    told = ", ".join(f"{each.what} {each.found}" for each in missing or looked)
    yield Checkup("film", bool(looked) and not missing, told or tr("not known: the program is not installed"), step)


def _look_at_phones() -> Iterator[Checkup]:
    from tempo_coach.coach.machine import PORT, find_addresses

    step = "pip install 'tempo_coach[phones]'"
    looked = [_look_at_library(name, least, step) for name, least in _needed("phones")]
    missing = [each for each in looked if not each.works]
    told = ", ".join(f"{each.what} {each.found}" for each in missing or looked)
    yield Checkup("phones", bool(looked) and not missing, told or tr("not known: the program is not installed"), step)
    addresses, free = find_addresses()
    yield Checkup(
        tr("addresses for phones"),
        bool(free),
        tr(
            "{names}, port {port}; nothing listens unless asked. A firewall has to let that port in, and guests' "
            "networks keep phones apart: one phone's hotspot helps",
            names=", ".join(free),
            port=PORT,
        )
        if free
        else tr("port {port} is taken", port=PORT)
        if addresses
        else tr("none: this computer is in no network"),
        tr("join a network with the phones, or let one phone be the hotspot of the others and of this computer")
        if not addresses
        else tr("practise --phones --address A:PORT names another port"),
    )


def _look_at_browser() -> Iterator[Checkup]:
    import shutil

    names = ("chromium", "chromium-browser", "google-chrome", "firefox", "msedge")
    found = next(filter(None, map(shutil.which, names)), None)
    step = tr("pages can be opened in any browser by hand; only PDF needs one here")
    yield Checkup("browser", bool(found), found or tr("none found"), step)


def _look_at_folders() -> Iterator[Checkup]:
    import os

    from tempo_coach.coach.machine import own_places
    from tempo_coach.errors import CoachError
    from tempo_coach.report.words.errors import message_of
    from tempo_coach.resources import find_shared

    for name in SHARED_WORDS:
        try:
            yield Checkup(name, True, str(find_shared(name)))
        except CoachError as error:
            yield Checkup(name, False, message_of(error), tr("install tempo_coach again"))
    for name, folder in zip(OWN_WORDS, own_places(), strict=True):
        near = next(each for each in (folder, *folder.parents) if each.exists())
        works = os.access(near, os.W_OK)
        yield Checkup(name, works, str(folder), tr("make it writable; until then takes stay in memory"))


_LOOKS: tuple[Callable[[], Iterator[Checkup]], ...] = (
    _look_at_versions,
    _look_at_sound,
    _look_at_terminal,
    _look_at_film,
    _look_at_phones,
    _look_at_browser,
    _look_at_folders,
)

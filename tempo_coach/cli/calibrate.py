"""``tempo-coach calibrate``: how late keyboard, loudspeaker and microphone are, and what observing by them adds."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tempo_coach.cli.options import add_json, check_devices, examples, refuse_unused
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator

    from tempo_coach.cli.output import Progress
    from tempo_coach.coach.calibrating import Step

#: Fewest and most clicks and openings that make sense.
CLICKS, OPENINGS = (16, 200), (1, 20)


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr(
        "Measure how late this computer's keyboard and loudspeaker are: you tap a key to clicks, or the microphone "
        "hears chirps and key strokes. What is found is kept for this loudspeaker and taken out of every take that "
        "is practised through it."
    )
    parser.epilog = examples("tempo-coach calibrate", "tempo-coach calibrate --microphone --openings 5")
    parser.add_argument(
        "--device",
        metavar="NAME",
        help="play through this loudspeaker: part of its name (default: as the system is set)",
    )
    parser.add_argument(
        "--microphone",
        nargs="?",
        const="",
        metavar="NAME",
        help="measure by the microphone, or by this one: loudspeaker up, microphone beside the keyboard",
    )
    parser.add_argument(
        "--clicks", type=int, default=36, metavar="N", help="how many clicks to tap to, 16 to 200 (default 36)"
    )
    parser.add_argument(
        "--openings",
        type=int,
        default=3,
        metavar="N",
        help="with --microphone: how often the sound is closed and opened again, 1 to 20 (default 3)",
    )
    parser.add_argument(
        "--phones",
        action="store_true",
        help="measure phones by knocks that they feel, or are touched by, and the microphone hears; kept for each by "
        "its name; needs the extra phones",
    )
    parser.add_argument(
        "--address",
        metavar="A[:PORT]",
        help="the one address of this computer that phones reach (default: the first that doctor lists; port 8765)",
    )
    parser.add_argument("--show", action="store_true", help="show what was measured before; nothing is measured")
    add_json(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from tempo_coach.cli.output import print_json
    from tempo_coach.coach.calibrating import keep_calibration, saying_what_failed
    from tempo_coach.errors import CoachError
    from tempo_coach.report.words.calibrated import format_calibration

    for value, (low, high), option in ((args.clicks, CLICKS, "--clicks"), (args.openings, OPENINGS, "--openings")):
        if not low <= value <= high:
            raise CoachError("option.out_of_range", where=option, low=low, high=high, found=value)
    refuse_unused(args, "device microphone clicks openings phones address", "with --show", unless=not args.show)
    refuse_unused(args, "clicks openings", "with --phones", unless=not args.phones)
    refuse_unused(args, "address", "without --phones", unless=args.phones)
    refuse_unused(args, "openings", "without --microphone", unless=args.microphone is not None)
    refuse_unused(args, "clicks", "with --microphone, which hears strokes", unless=args.microphone is None)
    check_devices(args.device, args.microphone, option="--microphone")
    if args.show:
        return _show(as_json=args.json)
    found: dict[str, dict[str, Any]] = {}
    with saying_what_failed():
        for device, what, values in _measure_phones(args) if args.phones else _measure(args):
            path = keep_calibration(device, {what: values})
            found.setdefault(device, {})[what] = values
    if not found:
        raise CoachError("calibration.nothing_measured")
    if args.json:
        print_json({"devices": found, "file": str(path)})
    else:
        print(format_calibration(found))
        print("\n" + tr("Kept in {path}.", path=path))
    _warn_of_changes(found)
    return 0


def _show(*, as_json: bool) -> int:
    """Show what is kept."""
    from tempo_coach.cli.output import print_json
    from tempo_coach.coach.calibrating import calibration_file, read_calibrations
    from tempo_coach.report.words.calibrated import format_calibration

    known = read_calibrations()
    if as_json:
        print_json(known)
        return 0
    if known:
        print(format_calibration(known))
    _warn_of_changes(known)
    if not known:
        print(tr("Nothing is calibrated yet: {calibration_file} is not there.", calibration_file=calibration_file()))
    return 0


def _begin(step: Step) -> Progress:
    """Say what is to be done for a measurement, and show how far it is."""
    from tempo_coach.cli.output import Progress, say
    from tempo_coach.report.words.calibrated import DOING, TO_DO

    for line in TO_DO.get(step, ()):
        say(line)
    return Progress(DOING[step])


def _measure(args: argparse.Namespace) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Run the measurements: device, method, result."""
    import sys

    from tempo_coach.cli.output import warn
    from tempo_coach.coach.calibrating import measure
    from tempo_coach.report.words.errors import say_error

    yield from measure(
        device=args.device,
        microphone=args.microphone,
        clicks=args.clicks,
        openings=args.openings,
        terminal=sys.stdin.fileno() if sys.stdin.isatty() else None,
        begin=_begin,
        untested=lambda error: warn(tr("Stamps not tested: {error}", error=say_error(error))),
    )
    if not sys.stdin.isatty():
        warn(tr("Keys not measured: that needs a terminal."))


def _measure_phones(args: argparse.Namespace) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Admit phones, and record knocks."""
    from tempo_coach.coach.calibrating import hands_of_knocks, measure_phones
    from tempo_coach.coach.looking_back import SOMEBODY
    from tempo_coach.coach.practising.sources import open_phones
    from tempo_coach.coach.practising.start import list_names
    from tempo_coach.ui.terminal import check_terminal, let_phones_in

    check_terminal()
    phones = open_phones(args.address, calibrated=False, members=True)
    try:
        let_phones_in(phones, hands=hands_of_knocks(), names=list_names(SOMEBODY))
        if any(each.observes for each in phones.phones.values()):
            yield from measure_phones(phones, device=args.device, microphone=args.microphone, begin=_begin)
    finally:
        phones.close()


def _warn_of_changes(known: dict[str, dict[str, Any]]) -> None:
    from tempo_coach.cli.output import warn
    from tempo_coach.coach.calibrating import find_changes
    from tempo_coach.coach.notices import tell

    for device, notice in find_changes(known):
        warn(f"{device}: {tell(notice)}")

"""``tempo-coach calibrate``: how late keyboard, loudspeaker and microphone are, and what observing by them adds."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tempo_coach.cli.options import add_json, check_devices, examples, refuse_unused
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Iterator

    from tempo_coach.live.audio.engine import Engine

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
    from datetime import datetime

    from tempo_coach.cli.output import print_json, warn
    from tempo_coach.errors import CoachError
    from tempo_coach.live.notices import SoundFailed
    from tempo_coach.live.setup.calibration import keep_calibration

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
    begun = datetime.now().astimezone().isoformat(timespec="seconds")
    try:
        measuring = _measure_phones(args, begun) if args.phones else _measure(args, begun, warn)
        for device, what, values in measuring:
            path = keep_calibration(device, {what: values})
            found.setdefault(device, {})[what] = values
    except SoundFailed as failed:
        raise CoachError(
            "calibration.no_sound", notice=failed.notice.code, arguments=failed.notice.arguments
        ) from failed
    if not found:
        raise CoachError("calibration.nothing_measured")
    if args.json:
        print_json({"devices": found, "file": str(path)})
    else:
        for device, measured in found.items():
            _print(device, measured)
        print("\n" + tr("Kept in {path}.", path=path))
    _warn_of_changes(found)
    return 0


def _show(*, as_json: bool) -> int:
    """Show what is kept."""
    from tempo_coach.cli.output import print_json
    from tempo_coach.live.setup.calibration import calibration_file, read_calibrations

    known = read_calibrations()
    if as_json:
        print_json(known)
        return 0
    for device, measured in known.items():
        _print(device, measured)
    _warn_of_changes(known)
    if not known:
        print(tr("Nothing is calibrated yet: {calibration_file} is not there.", calibration_file=calibration_file()))
    return 0


def _measure(
    args: argparse.Namespace, begun: str, warn: Callable[[str], None]
) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Run the measurements: device, method, result."""
    import sys

    from tempo_coach.cli.output import Progress, say
    from tempo_coach.errors import CoachError
    from tempo_coach.live.audio.engine import Engine
    from tempo_coach.live.setup import measuring
    from tempo_coach.live.setup.calibration import THIS_COMPUTER, to_plain
    from tempo_coach.report.words.errors import say_error

    def open_sound() -> Engine:
        return Engine(device=args.device, microphone=args.microphone)

    try:
        with Progress("testing the stamps of keys"):
            stamps = measuring.measure_stamps()
    except CoachError as error:
        warn(tr("Stamps not tested: {error}", error=say_error(error)))
    else:
        yield THIS_COMPUTER, "stamps", to_plain(stamps, begun=begun)
    if args.microphone is not None:
        say("Chirps come from the loudspeaker now; keep quiet.")
        with Progress("listening to chirps") as progress:
            name, loop = measuring.measure_loop(open_sound, openings=args.openings, progress=progress)
        yield name, "loop", to_plain(loop, begun=begun)
    if not sys.stdin.isatty():
        warn(tr("Keys not measured: that needs a terminal."))
        return
    engine = open_sound()
    try:
        if args.microphone is not None:
            say("Chirps first; after them strike one key about once a second, at least 15 times.")
            with Progress("listening to strokes") as progress:
                strokes = measuring.measure_strokes(engine, sys.stdin.fileno(), progress=progress)
            yield engine.name, "strokes", to_plain(strokes, begun=begun)
        else:
            say("Listen to four clicks, then tap one key with every click until they end.")
            with Progress("taking in taps") as progress:
                taps = measuring.measure_taps(engine, sys.stdin.fileno(), clicks=args.clicks, progress=progress)
            yield engine.name, "taps", to_plain(taps, begun=begun)
    finally:
        engine.close()


def _measure_phones(args: argparse.Namespace, begun: str) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Admit phones, and record knocks."""
    from tempo_coach.cli.output import Progress, say
    from tempo_coach.coach.practising.sources import open_phones
    from tempo_coach.coach.practising.start import list_names
    from tempo_coach.history.records import SOMEBODY
    from tempo_coach.live.audio.engine import Engine
    from tempo_coach.live.setup import measuring
    from tempo_coach.live.setup.calibration import PHONE, to_plain
    from tempo_coach.ui.terminal import check_terminal, let_phones_in

    check_terminal()
    phones = open_phones(args.address, calibrated=False, members=True)
    try:
        let_phones_in(phones, hands=measuring.plan_of_knocks().hands, names=list_names(SOMEBODY))
        if not any(each.observes for each in phones.phones.values()):
            return
        say("Chirps first; after them knock at least 12 times, about once a second: on the table where phones lie that")
        say("are worn, and with a knuckle on the field of each phone that is tapped.")
        engine = Engine(device=args.device, microphone=args.microphone or "")
        try:
            with Progress("listening to knocks") as progress:
                found = measuring.measure_phones(engine, phones, progress=progress)
        finally:
            engine.close()
        for name, delay in found.items():
            yield f"{PHONE}{name}", "knock", to_plain(delay, begun=begun)
    finally:
        phones.close()


def _warn_of_changes(known: dict[str, dict[str, Any]]) -> None:
    from tempo_coach.cli.output import warn
    from tempo_coach.coach.notices import tell
    from tempo_coach.live.setup.calibration import find_setup

    for device, measured in known.items():
        notice = find_setup(measured, "tap").notice
        if notice is not None:
            warn(f"{device}: {tell(notice)}")


def _print(device: str, measured: dict[str, Any]) -> None:
    """Print what was found in words."""
    print(tr(device))
    if (found := measured.get("stamps")) is not None:
        print(
            tr(
                "  stamps   a key is stamped {delay_ms:.2f} ms after it arrives, SD {spread_ms:.2f} ms",
                delay_ms=found["delay_ms"],
                spread_ms=found["spread_ms"],
            )
        )
    if (found := measured.get("loop")) is not None:
        each = ", ".join(f"{one:.1f}" for one in found["openings_ms"])
        print(
            tr(
                "  loop     loudspeaker to microphone {loop_ms:.1f} ms (openings: {each})",
                loop_ms=found["loop_ms"],
                each=each,
            )
        )
    if (found := measured.get("strokes")) is not None:
        print(
            tr(
                "  strokes  stamps come {with_interval} after the stroke; no person in it",
                with_interval=_with_interval(found, "delay_ms", "ci95_ms"),
            )
        )
    if (found := measured.get("knock")) is not None:
        print(
            tr(
                "  knocks   they come {with_interval} after they were heard; taken out",
                with_interval=_with_interval(found, "delay_ms", "ci95_ms"),
            )
        )
    if (found := measured.get("taps")) is not None:
        print(
            tr(
                "  taps     they come {with_interval} after the clicks, {n} taps",
                with_interval=_with_interval(found, "delay_ms", "ci95_ms"),
                n=found["n"],
            )
        )
        print(
            tr("           tapping cannot tell a person's own lead from the setup's delay. People lead by 25 ms or so;")
        )
        print(
            tr(
                "           then the setup adds {with_interval}: that is taken out.",
                with_interval=_with_interval(found, "setup_ms", "setup_ci95_ms"),
            )
        )


def _with_interval(found: dict[str, Any], key: str, interval: str) -> str:
    low, high = found[interval]
    return tr("{found:.1f} ms (95 %: {low:.1f} to {high:.1f})", found=found[key], low=low, high=high)

"""``tempo-coach film``: markers in a phone's film to a trace, and a page to look at whether it can be trusted."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tempo_coach.cli.many_files import add_many, run_many, take_one
from tempo_coach.cli.options import add_force, add_json, examples, refuse_unused
from tempo_coach.errors import CoachError
from tempo_coach.languages import tr
from tempo_coach.report.words.amounts import say_decimal

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Mapping

    from tempo_coach.coach.files import Plan
    from tempo_coach.coach.filming import Film, FilmTrace, Trace
    from tempo_coach.coach.phone_delays import PhoneDelay


CARE = (
    "A film is read where it lies: nothing of it is copied, sent or kept unless it is asked for. "
    "Film minors only as their parents and club allow, and delete what is no longer needed."
)


#: Options that ask for more than to measure the phone.
_FURTHER = ("marker", "part", "at", "out", "onsets", "check", "clip", "plan", "music", "json")


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr(
        "Follow up to six coloured markers (tape on a club's head, on the rope's end, on a wrist) through a film, "
        "to a table of times and places that trace, learn, compare and score read. {care} Only --check writes "
        "pictures of it.",
        care=tr(CARE),
    )
    parser.epilog = examples(
        "tempo-coach film mills.mp4 --marker left=red --marker right=yellow --out mills.csv --check look.html"
    )
    parser.add_argument("film", metavar="FILE", nargs="+", help="mp4, mov, mkv or webm; or several")
    parser.add_argument("--out", metavar="TRACE.csv", help="write the trace here; of several films, into this folder")
    parser.add_argument(
        "--onsets",
        metavar="OUT.csv",
        help="write the circles of each marker for the command group: --marker MEMBER=COLOUR, or MEMBER/HAND=COLOUR",
    )
    clock = parser.add_mutually_exclusive_group()
    clock.add_argument(
        "--plan",
        metavar="PLAN.json",
        help="give times on the take clock of this plan, by its music in the film's sound",
    )
    clock.add_argument("--music", metavar="FILE", help="give times in s of this music, by hearing it in the film")
    parser.add_argument(
        "--speed",
        type=float,
        metavar="SHARE",
        help="with --music: of its own speed, as it was played in the film (default 1)",
    )
    parser.add_argument(
        "--check",
        metavar="OUT.html",
        help="write a page with a picture a cycle to look at; OUT.mp4: the film itself, smaller, with the paths in it",
    )
    parser.add_argument(
        "--clap",
        type=float,
        nargs=2,
        metavar=("ON_FILM", "ON_CLOCK"),
        help="seconds at which the film shows a clap and a clock (with --plan the take clock) has it: times are on it",
    )
    parser.add_argument(
        "--clap-seen",
        action="store_true",
        help="measure by how much the picture comes behind the sound, by three claps or more (or a ball or rope that "
        "meets the floor) in the film, and keep it for all films of this phone",
    )
    clip = parser.add_argument_group("a clip of one cycle beside her median one, slowed, again and again")
    clip.add_argument("--clip", metavar="OUT.mp4", help="write it here; with --plan the cues and the count are in it")
    clip.add_argument(
        "--cycle",
        type=int,
        metavar="N",
        help="which one, from 1: as trace numbers them, with --plan as the card does (default: the one that broke)",
    )
    clip.add_argument("--slower", type=float, metavar="TIMES", help="times slower than life (default 4)")
    add_following(parser)
    add_many(parser)
    add_force(parser)
    add_json(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from tempo_coach.cli.output import check_outputs, print_json, warn, write_text
    from tempo_coach.coach.files import read_plan
    from tempo_coach.coach.filming import members_to_csv, trace_to_csv
    from tempo_coach.report.words.film import film_to_dict, format_film

    if len(args.film) > 1:
        return run_many(args, "film", columns=_COLUMNS, refused="onsets check clip clap clap_seen", folder="out")
    args = take_one(args, "film")
    _refuse(args)
    check_outputs(args, "out", "onsets", "check", "clip")
    plan = read_plan(args.plan) if args.plan else None
    measured = _measure_phone(args) if args.clap_seen else None
    if measured and not any(getattr(args, name) for name in _FURTHER):
        return 0  # a film of claps alone
    filmed = follow(args, args.film)
    for note in filmed.film.notes:
        warn(note)
    trace = filmed.trace
    if args.clap or plan or args.music:
        trace = _onto_clock(args, plan, filmed, measured)
    check_outputs(args, "out", "onsets", "check", "clip")  # the plan may have named music that was read
    if args.out:
        write_text(args.out, trace_to_csv(trace), force=args.force)
    if args.onsets:
        write_text(args.onsets, members_to_csv(filmed, trace, hands=plan.hands if plan else ()), force=args.force)
    if args.check:
        _write_check(args.check, filmed, force=args.force)
    if args.clip:
        _write_clip(args, filmed, trace, plan)
    if args.json:
        print_json(film_to_dict(filmed))
    else:
        print(format_film(filmed))
    return 0


#: What the table of several films has of each.
_COLUMNS: Mapping[str, Callable[[Any], str]] = {
    "s": lambda found: say_decimal(found["film"]["end_s"] - found["film"]["start_s"], ".1f"),
    "pictures": lambda found: str(found["film"]["pictures"]),
    "seen": lambda found: " ".join(f"{each['name']} {100 * each['seen']:.0f} %" for each in found["markers"]),
    "gaps": lambda found: str(sum(len(each["gaps"]) for each in found["markers"])),
}


def _refuse(args: argparse.Namespace) -> None:
    """Refuse options that are contradictory or useless."""
    refuse_unused(args, "cycle slower", "without --clip", unless=args.clip)
    refuse_unused(args, "clap", "with --music, which is heard", unless=not args.music)
    if args.speed is not None and not args.music:
        raise CoachError("film.speed_of_music", where="--speed")
    if args.clip and not args.clip.lower().endswith((".mp4", ".m4v")):
        raise CoachError("clip.is_mp4", where="--clip", found=args.clip)
    if args.slower is not None and not 1 <= args.slower <= 20:
        raise CoachError("clip.slower", where="--slower", found=args.slower)


def _write_check(path: str, filmed: FilmTrace, *, force: bool) -> None:
    """Write the page, or by its suffix the film, whole or not at all."""
    from tempo_coach.cli.output import Progress, write_text
    from tempo_coach.resources import refuse_existing, written_whole

    with Progress("drawing the pictures") as progress:
        if not path.lower().endswith((".mp4", ".m4v")):
            from tempo_coach.report.pages.film import film_page

            write_text(path, film_page(filmed, progress=progress), force=force)
            return
        from tempo_coach.report.pages.film import write_film_check

        with written_whole(refuse_existing(path, force=force), what="film") as temporary:
            write_film_check(temporary, filmed, progress=progress)


def _write_clip(args: argparse.Namespace, filmed: FilmTrace, trace: Trace, plan: Plan | None) -> None:
    """Write the clip; with a plan, cycles have its numbers."""
    from tempo_coach.cli.output import Progress
    from tempo_coach.coach.clips import SLOWER, write_cycle_clip
    from tempo_coach.resources import refuse_existing, written_whole

    path = refuse_existing(args.clip, force=args.force)
    with Progress("drawing the clip") as progress, written_whole(path, what="film") as temporary:
        write_cycle_clip(
            temporary,
            filmed,
            plan=plan,
            on_take=None if trace is filmed.trace else trace,
            number=args.cycle,
            slower=args.slower or SLOWER,
            progress=progress,
        )


def _measure_phone(args: argparse.Namespace) -> PhoneDelay:
    """Measure the delay of the film's picture, and report it."""
    from tempo_coach.cli.output import Progress, warn
    from tempo_coach.coach.phone_delays import measure_phone
    from tempo_coach.report.words.film import say_measured_phone

    film = look(args, args.film)
    with Progress("looking for claps") as progress:
        found = measure_phone(film, warn=warn, progress=progress)
    said = say_measured_phone(found.reason_of(film.phone), kept=bool(film.phone))
    if args.json:
        warn(said)
    else:
        print(said)
    return found


def _onto_clock(args: argparse.Namespace, plan: Plan | None, filmed: FilmTrace, measured: PhoneDelay | None) -> Trace:
    """Return the trace on the clock of the clap, of the plan, or of the recording heard in the film."""
    from tempo_coach.cli.output import Progress, warn
    from tempo_coach.coach import filming
    from tempo_coach.report.words.film import say_alignment

    if args.clap:
        return filming.place_by_clap(filmed, tuple(args.clap))
    with Progress("finding the music in the film") as progress:
        found = filming.find_music(
            filmed.film, plan=plan, music=args.music, speed=args.speed, warn=warn, progress=progress
        )
    warn(say_alignment(found))
    trace, delays = filming.place_by_music(filmed, found, measured=measured)
    warn(delays)
    return trace


def add_following(parser: argparse._ActionsContainer) -> None:
    """Add the options that say what is to be followed, and in which part of the film."""
    parser.add_argument(
        "--marker",
        action="append",
        default=[],
        metavar="NAME=COLOUR",
        help="a marker: left=red, or a colour alone; without any, what is coloured and moves is followed",
    )
    parser.add_argument(
        "--at",
        action="append",
        default=[],
        nargs=3,
        type=float,
        metavar=("TIME", "X", "Y"),
        help="where a marker without colour is at a second of the film, in pixels from the left and from the top; one "
        "for each, in their order",
    )
    parser.add_argument(
        "--part",
        action="append",
        default=[],
        metavar="NAME=LEFT,TOP,WIDTH,HEIGHT",
        help="without a marker: follow what moves in this part of the picture, in pixels (a name alone: anywhere); "
        "less sure",
    )
    parser.add_argument(
        "--film-from", type=float, metavar="S", help="leave out what comes before this second of the film"
    )
    parser.add_argument("--film-to", type=float, metavar="S", help="leave out what comes after this second of the film")
    parser.add_argument(
        "--without",
        action="append",
        default=[],
        metavar="S-S",
        help="leave a doubtful stretch of the film out, in seconds: 12.0-13.5",
    )
    parser.add_argument(
        "--slowed",
        type=float,
        metavar="N",
        help="how many times slower than life the film is (default: as it says itself)",
    )


def follow(args: argparse.Namespace, path: str) -> FilmTrace:
    """Follow a film's markers as the options of :func:`add_following` say.

    Raises
    ------
    CoachError
        If the options do not go together, or nothing can be followed.
    """
    from tempo_coach.cli.output import Progress, warn
    from tempo_coach.coach import read_stretch
    from tempo_coach.coach.filming import follow_film, read_part, read_wanted

    wanted = read_wanted(args.marker, args.at)
    parts = [read_part(text) for text in args.part]
    without = [read_stretch(text, where="--without") for text in args.without]
    if wanted and parts:
        raise CoachError("film.markers_and_parts", where="--part")
    film = look(args, path)
    with Progress("following the movement" if parts else "following the film") as progress:
        return follow_film(film, wanted=wanted, parts=parts, without=without, progress=progress, warn=warn)


def look(args: argparse.Namespace, path: str) -> Film:
    """Return the film's properties, within the window of the options."""
    from tempo_coach.coach.filming import look_at_film

    return look_at_film(path, start=args.film_from, end=args.film_to, slowed=args.slowed)

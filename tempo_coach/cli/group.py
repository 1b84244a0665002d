"""``tempo-coach group``: members against each other and against the plan."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import PASSAGE, add_force, add_json, add_passage, examples, read_request, refuse_unused
from tempo_coach.languages import tr
from tempo_coach.observe.observers import DEFAULT_SOUND, SOUNDS

if TYPE_CHECKING:
    import argparse

    from tempo_coach.coach.filmed_groups import Shown
    from tempo_coach.coach.judging import JudgedGroup
    from tempo_coach.reasons import Note, Warn


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr(
        "Say how together 2 to 30 members are: who is early, who late, who leads. Give of each what there is: a "
        "take, a table of onsets, a trace, a recording or film with the music in it, or a number of the history "
        "(12, or Ada:last for her newest take), or where she is in one film of all; one table with the columns "
        "time (in s) and member; or a folder of such files."
    )
    parser.epilog = examples(
        "tempo-coach group clapping.csv --tempo 120",
        "tempo-coach group Ada=ada.csv Bea=bea.csv --plan mills.json",
        "tempo-coach group Ada=mills.mp4@40,48 Bea=mills.mp4@120,48",
        "tempo-coach group clapping.csv --tempo 120 --keep juniors",
        "tempo-coach group --live Ada Bea Cyl --drill clubs_mills --hand right --tempo 100",
    )
    parser.add_argument(
        "takes",
        metavar="TAKE",
        nargs="+",
        help="a take, a table, a trace, a recording, a number of the history or a folder; NAME=TAKE says whose it is, "
        "NAME,NAME,NAME=TAKE that these take turns in it, in this order; NAME=FILM@X,Y that she is at this pixel of a "
        "film's first picture, of each member in it",
    )
    parser.add_argument(
        "--drill",
        metavar="DRILL",
        help="what was to be done: a drill, with the options that cue was given (default: every count of --tempo or "
        "--music)",
    )
    add_members(parser)
    kept = parser.add_argument_group("keep it")
    kept.add_argument(
        "--keep", metavar="GROUP", help="put it into the history under this name of the group, and each one's take"
    )
    kept.add_argument("--begun", metavar="TIME", help="date and time, such as 2031-05-04T18:15 (default: now)")
    kept.add_argument("--file", metavar="FILE", help="another history (default: the one in your data folder)")
    live = parser.add_argument_group("while it moves")
    live.add_argument(
        "--live",
        action="store_true",
        help="practise --drill together: each TAKE is the name of a member, who taps a key of her own; the screen "
        "shows who is early now, and then the card",
    )
    live.add_argument("--phones", action="store_true", help="a phone of each member observes; needs the extra phones")
    live.add_argument(
        "--address",
        metavar="A[:PORT]",
        help="the one address of this computer that phones reach (default: the first that doctor lists; port 8765)",
    )
    live.add_argument(
        "--device", metavar="NAME", help="play through this loudspeaker: part of its name; none: without sound"
    )
    parser.add_argument(
        "--crossing-page",
        metavar="PAGE.html",
        help="in a film of all, write a page with one picture of the moment after each crossing, everybody numbered",
    )
    add_force(parser)
    parser.add_argument("--screen", action="store_true", help="open it on the screen, to look through")
    add_json(parser)
    parser.set_defaults(run=run)


def add_members(parser: argparse.ArgumentParser) -> None:
    """Add the options for reading the members' files, except the drill."""
    from tempo_coach.cli.trace import add_unit

    parser.add_argument("--plan", metavar="PLAN.json", help="the plan that cue wrote (default: that of the takes)")
    add_passage(parser)
    group = parser.add_argument_group("the members")
    group.add_argument(
        "--place",
        action="append",
        default=[],
        metavar="MEMBER=METRES",
        help="how far from the loudspeaker she stood: sound takes 2.9 ms a metre, which are taken off (default: not "
        "known, anywhere in the hall)",
    )
    group.add_argument(
        "--hall",
        type=float,
        metavar="METRES",
        help="how far from the loudspeaker anybody may have stood: nobody is called early or late within the time that "
        "sound takes for it (default: 14 for recordings and films, 0 for takes and tables)",
    )
    group.add_argument(
        "--kind",
        choices=tuple(SOUNDS),
        help=tr("the sound that is heard in recordings (default {default_sound})", default_sound=DEFAULT_SOUND),
    )
    group.add_argument(
        "--first-clap",
        action="store_true",
        help="recordings without music: before all else there is one clap that all of them heard, and it sets their "
        "clocks",
    )
    group.add_argument(
        "--film", action="store_true", help="follow the markers in films (default: their sound is heard)"
    )
    group.add_argument(
        "--canon",
        action="append",
        default=[],
        metavar="MEMBER=COUNTS",
        help="her part begins so many counts later (default 0)",
    )
    group.add_argument(
        "--exchange", action="append", default=[], metavar="MEMBER:MEMBER", help="the first throws to the second"
    )
    group.add_argument(
        "--routine",
        metavar="FILE",
        help="a routine: its music, as --music has it, and what its moments say of exchanges, a canon, mirrored hands "
        "and unison",
    )
    group.add_argument(
        "--after-crossing",
        action="append",
        default=[],
        metavar="NAME=N,NAME=N",
        help="in a film of all, where some changed places: who is which number in the picture of --crossing-page; for "
        "a second crossing once more (kept for this film)",
    )
    add_unit(group)
    group.add_argument(
        "--clock",
        action="append",
        default=[],
        metavar="MEMBER=S",
        help="seconds to add to the times of her file (default 0)",
    )


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from tempo_coach.cli.output import check_outputs, print_json, say, warn, write_text
    from tempo_coach.coach.looking_back import now, read_begun, read_name
    from tempo_coach.report.pages.crossing import crossing_page
    from tempo_coach.report.words.group import format_group, group_to_dict
    from tempo_coach.report.words.reasons import say_note

    refuse_unused(args, "phones address device", "without --live", unless=args.live)
    refuse_unused(args, "address", "without --phones", unless=args.phones)
    if args.live:
        return _run_live(args)
    refuse_unused(args, "json", "with --screen", unless=not args.screen)
    refuse_unused(args, "begun", "without --keep", unless=args.keep is not None)
    if args.crossing_page is not None:
        from tempo_coach import coach

        refuse_unused(args, "crossing_page", "without members of one film", unless=coach.in_one_film(args.takes))
    if args.keep is not None:
        read_name(args.keep)  # refused before anything is read
        read_begun(args.begun or now())
    notes: list[Note] = []
    pages: list[str] = []
    check_outputs(args, "crossing_page")
    drawn: Shown = lambda film, found: pages.append(crossing_page(film, found))  # noqa: E731
    group = judge(args, notes.append, shown=drawn if args.crossing_page is not None else None)
    if args.crossing_page is not None and not pages:
        warn(tr("Nobody changed places, so that no page was written."))
    for page in pages:
        write_text(args.crossing_page, page, force=args.force)
    if args.screen and not args.plain:
        from tempo_coach.ui.group import open_group

        open_group(group.card, notes=tuple(dict.fromkeys(map(say_note, notes))))
    elif args.json:
        print_json(group_to_dict(group.card))
    else:
        print(format_group(group.card))
    if args.keep is not None:  # whatever becomes of that, the card was there
        from tempo_coach.coach.archiving import keep_group
        from tempo_coach.coach.looking_back import find_history

        number = keep_group(group, team=args.keep, begun=args.begun or now(), file=find_history(args.file))
        say(tr("Kept as performance {number} of {keep}.", number=number, keep=args.keep))
    return 0


#: Options that say how files are read, for which there is no use where nothing is read.
_OF_FILES = (
    "after_crossing crossing_page plan place hall kind first_clap film canon exchange "
    "routine unit clock begun screen json plain"
)


def _run_live(args: argparse.Namespace) -> int:
    from tempo_coach import coach
    from tempo_coach.cli.options import check_devices
    from tempo_coach.cli.output import Progress, say, warn
    from tempo_coach.coach.looking_back import now, read_name
    from tempo_coach.coach.practising.group_takes import MEMBERS
    from tempo_coach.coach.practising.sources import open_phones
    from tempo_coach.coach.practising.start import prepare_practice
    from tempo_coach.errors import WrongUsage
    from tempo_coach.ui.terminal import check_terminal, run_live_group

    refuse_unused(args, _OF_FILES, "with --live")
    refuse_unused(args, "file", "without --keep", unless=args.keep is not None)
    if args.drill is None:
        raise WrongUsage("group.live_without_drill", where="--live")
    members = [read_name(each) for each in args.takes]
    low, high = MEMBERS
    if not low <= len(members) <= high or len(set(members)) < len(members):
        raise WrongUsage("group.live_members", where="--live", low=low, high=high, found=members)
    if args.keep is not None:
        read_name(args.keep)
    request = read_request(args, args.drill)
    check_terminal()
    check_devices(args.device, None)
    heard = None
    if request.music is not None:
        with Progress("hearing the music") as progress:
            heard = coach.hear_request(request, warn=warn, progress=progress)
    context = prepare_practice(
        request,
        heard=heard,
        observed_by="phone" if args.phones else "tap",
        device=args.device,
        voice=args.voice,
    )
    takes = run_live_group(context, members, phones=open_phones(args.address, members=True) if args.phones else None)
    for take in takes:
        for path in take.paths:
            print(path)
        if args.keep is not None and take.judged is not None:
            from tempo_coach.coach.archiving import keep_group
            from tempo_coach.coach.looking_back import find_history

            number = keep_group(take.judged, team=args.keep, begun=take.begun or now(), file=find_history(args.file))
            say(tr("Kept as performance {number} of {keep}.", number=number, keep=args.keep))
    return 0


def judge(args: argparse.Namespace, note: Warn | None = None, shown: Shown | None = None) -> JudgedGroup:
    """Judge the group that the options name; ``note`` receives messages meanwhile, ``shown`` crossings of a film."""
    from tempo_coach import coach
    from tempo_coach.cli.output import Progress, warn
    from tempo_coach.cli.trace import read_units
    from tempo_coach.coach.groups import GroupRequest, judge_group
    from tempo_coach.coach.looking_back import find_history
    from tempo_coach.errors import WrongUsage

    if args.hall is not None and not 0 <= args.hall <= _MOST["--place"]:
        raise WrongUsage("group.hall", where="--hall", most_m=_MOST["--place"], hall_m=args.hall)
    refuse_unused(args, PASSAGE, "with --plan, which has it", unless=not args.plan)
    refuse_unused(args, PASSAGE.replace("tempo music ", ""), "without --drill", unless=args.drill)
    own = "hall place clock kind first_clap film unit exchange routine"
    refuse_unused(args, own, "with members of one film", unless=not coach.in_one_film(args.takes))
    refuse_unused(args, "after_crossing", "without members of one film", unless=coach.in_one_film(args.takes))
    refuse_unused(args, "first_clap", "with music, which sets the clocks", unless=not (args.music or args.plan))
    of_history = getattr(args, "keep", None) is not None or any(map(coach.names_history, args.takes))
    refuse_unused(args, "file", "where no take is of the history", unless=of_history)
    asked = GroupRequest(
        tuple(args.takes),
        plan=args.plan,
        drill=read_request(args, args.drill) if args.drill else None,
        music=args.music,
        tempo_bpm=args.tempo,
        routine=args.routine,
        later=_read_numbers(args.clock, "--clock"),
        metres=_read_numbers(args.place, "--place"),
        shifts=_read_numbers(args.canon, "--canon"),
        partners=_read_partners(args.exchange),
        hall=args.hall,
        listening=coach.RecordingOptions(args.kind, args.film, args.first_clap),
        units=read_units(args.unit),
        answers=tuple(coach.read_answer(each) for each in args.after_crossing),
        shown=shown,
    )

    def tell(told: Note) -> None:
        warn(told)
        if note is not None:
            note(told)

    with Progress("reading the group") as progress:
        return judge_group(asked, history=find_history(args.file), warn=tell, progress=progress)


#: What nobody can mean: seconds since 1970 beyond the year 2286, metres beyond any hall, counts beyond any music.
_MOST = {"--clock": 1e10, "--place": 1000.0, "--canon": 1000.0}


def _read_numbers(given: list[str], option: str) -> dict[str, float]:
    import math

    from tempo_coach.errors import WrongUsage

    found = {}
    for each in given:
        member, mark, number = each.rpartition("=")
        try:
            found[member] = float(number)
        except ValueError:
            found[member] = math.nan
        if not mark or not abs(found[member]) <= _MOST[option]:
            raise WrongUsage("group.no_number", where=option, found=each[:80])
    return found


def _read_partners(given: list[str]) -> dict[str, str]:
    from tempo_coach.errors import CoachError

    partners: dict[str, str] = {}
    for each in given:
        thrower, mark, catcher = each.partition(":")
        if not (mark and thrower and catcher) or thrower in partners:
            raise CoachError("group.no_exchange", where="--exchange", found=each)
        partners[thrower] = catcher
    return partners

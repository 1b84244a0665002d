"""``tempo-coach countfilm``: the music of a routine as a film with the big count, to play on a phone or in a hall."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import add_force, examples, refuse_unused
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse
    from pathlib import Path

    from tempo_coach.coach import Heard
    from tempo_coach.coach.count_film import Routine

_PAGES = (".html", ".htm", ".pdf")


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr(
        "Write the music as a film for any phone, tablet or screen of a hall: the big count, the eight, what is "
        "laid now and what comes next, in the look of the practice screen (needs the extra film); and a card for "
        "each eight as a page to print."
    )
    parser.epilog = examples(
        "tempo-coach countfilm routine.toml --out routine.mp4 --voice",
        "tempo-coach countfilm routine.toml --cards cards.pdf",
    )
    parser.add_argument("music", metavar="MUSIC", help="a routine's file, or a sound file, which has counts alone")
    parser.add_argument("--out", metavar="FILE.mp4", help="write the film here: .mp4")
    parser.add_argument(
        "--cards",
        metavar="FILE",
        help="write a page for each eight here: .html for a browser, or .pdf, which needs a browser that prints",
    )
    parser.add_argument("--clicks", action="store_true", help="a click on every count besides")
    parser.add_argument(
        "--voice",
        nargs="?",
        const="",
        metavar="NAME",
        help="counts are spoken besides: in the language of the screen, in the one named (de, en, es, fr, it), or by "
        "the recordings in a folder of your own; a remark is said on its eight where that folder has it: chin_up.wav "
        "for chin up",
    )
    add_force(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from pathlib import Path

    from tempo_coach import coach
    from tempo_coach.cli.output import Progress, check_outputs, warn
    from tempo_coach.coach.count_film import find_voice, of_music_alone
    from tempo_coach.coach.files import load_decoder
    from tempo_coach.errors import CoachError, WrongUsage
    from tempo_coach.report.pages.page import check_browser

    if not (args.out or args.cards):
        raise WrongUsage("countfilm.nothing_asked", where="countfilm")
    if args.out and Path(args.out).suffix.lower() != ".mp4":
        raise CoachError("countfilm.name_ends", where="--out", out=args.out)
    ending = Path(args.cards).suffix.lower() if args.cards else ""
    if args.cards and ending not in _PAGES:
        raise CoachError("countfilm.cards_end", where="--cards", endings=[*_PAGES], out=args.cards)
    refuse_unused(args, "clicks voice", "without --out", unless=args.out)
    if args.clicks and args.voice is not None:
        raise WrongUsage("countfilm.clicks_or_voice", where="--voice")
    check_outputs(args, "out", "cards")
    if args.out:
        load_decoder(args.out)
    if args.voice is not None:
        find_voice(args.voice)
    if ending == ".pdf":
        check_browser()
    path = Path(args.music)
    with Progress("hearing the music") as progress:
        if coach.is_routine(path) or path.suffix.lower() == ".toml":
            opened = coach.open_routine(path, warn=warn, progress=progress)
            heard, routine, beside = coach.counts_of(opened, warn=warn), opened.routine, path
        else:
            heard = coach.hear(path, warn=warn, progress=progress)
            routine, beside = of_music_alone(path), None
    if args.cards:
        _write_cards(args, routine, heard, beside)
    if args.out:
        _write_film(args, routine, heard, beside)
    return 0


def _write_cards(args: argparse.Namespace, routine: Routine, heard: Heard, beside: Path | None) -> None:
    from pathlib import Path

    from tempo_coach.cli.output import Progress, write_text
    from tempo_coach.coach.eight_cards import make_cards
    from tempo_coach.coach.routine_course import course_of
    from tempo_coach.report.pages.cards import cards_page
    from tempo_coach.report.pages.page import print_page
    from tempo_coach.report.words.amounts import several
    from tempo_coach.resources import refuse_existing

    cards = make_cards(course_of(routine, heard.counts, beside), heard.counts)
    page = cards_page(cards, title=routine.title)
    if Path(args.cards).suffix.lower() == ".pdf":
        pdf = refuse_existing(args.cards, force=args.force)
        with Progress("printing"):
            print_page(page, pdf)
    else:
        write_text(args.cards, page, force=args.force)
    print(f"{routine.title}: {several(len(cards), 'card')} -> {args.cards}")


def _write_film(args: argparse.Namespace, routine: Routine, heard: Heard, beside: Path | None) -> None:
    from tempo_coach.cli.output import Progress, warn
    from tempo_coach.coach.count_film import follow_course, mix_counted
    from tempo_coach.coach.routine_course import course_of
    from tempo_coach.report.drawings.moving import write_film
    from tempo_coach.report.words.amounts import say_clock
    from tempo_coach.resources import refuse_existing, written_whole
    from tempo_coach.ui.practice.count_picture import draw_step

    steps = follow_course(course_of(routine, heard.counts, beside), heard.counts)
    sound, unsaid = mix_counted(routine, heard, clicks=args.clicks, voice=args.voice)
    if unsaid is not None:
        warn(unsaid)
    out = refuse_existing(args.out, force=args.force)
    with Progress("making the film") as progress, written_whole(out) as temporary:
        pictures = ((step.start, draw_step(step, title=routine.title)) for step in steps)
        write_film(temporary, pictures, sound, title=routine.title, where=str(out), progress=progress)
    print(f"{routine.title}: {say_clock(sound.duration)} -> {args.out}")

"""``tempo-coach film``: markers in a phone's film to a trace, and a page to look at whether it can be trusted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.film_options import CARE, add_following, follow
from tempo_coach.cli.options import add_force, add_json, examples

if TYPE_CHECKING:
    import argparse

    from tempo_coach.observe.film.film_trace import FilmTrace
    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.pattern.plan.plan import Plan


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = (
        "Follow up to six coloured markers (tape on a club's head, on the rope's end, on a wrist) through "
        f"a film, to a table of times and places that trace, learn, compare and score read. {CARE} Only "
        "--check writes pictures of it."
    )
    parser.epilog = examples(
        "tempo-coach film mills.mp4 --marker left=red --marker right=yellow --out mills.csv --check look.html"
    )
    parser.add_argument("film", metavar="FILE", help="mp4, mov, mkv or webm")
    parser.add_argument("--out", metavar="TRACE.csv", help="write the trace here")
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
    add_following(parser)
    add_force(parser)
    add_json(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from tempo_coach.cli.output import check_outputs, print_json, warn, write_text
    from tempo_coach.errors import CoachError
    from tempo_coach.observe.film.film_take import members_to_csv
    from tempo_coach.observe.film.film_trace import trace_to_csv
    from tempo_coach.pattern.plan.plan_file import read_plan

    if args.speed is not None and not args.music:
        raise CoachError("a speed is that of the music", where="--speed", hint="give --music FILE; a plan has its own")
    check_outputs(args, "out", "onsets", "check")
    plan = read_plan(args.plan) if args.plan else None
    filmed = follow(args, args.film)
    for note in filmed.film.notes:
        warn(f"{note}.")
    trace = _onto_music(args, plan, filmed) if plan or args.music else filmed.trace
    check_outputs(args, "out", "onsets", "check")  # the plan may have named music that was read
    if args.out:
        write_text(args.out, trace_to_csv(trace), force=args.force)
    if args.onsets:
        write_text(args.onsets, members_to_csv(filmed, trace, hands=plan.hands if plan else ()), force=args.force)
    if args.check:
        _write_check(args.check, filmed, force=args.force)
    if args.json:
        print_json(_to_dict(filmed))
    else:
        print(_format(filmed))
    return 0


def _write_check(path: str, filmed: FilmTrace, *, force: bool) -> None:
    """Write the page, or the film where the name says so, whole or not at all."""
    from tempo_coach.cli.output import Progress, write_text
    from tempo_coach.resources import refuse_existing, written_whole

    with Progress("drawing the pictures") as progress:
        if not path.lower().endswith((".mp4", ".m4v")):
            from tempo_coach.report.pages.film import film_page

            write_text(path, film_page(filmed, progress=progress), force=force)
            return
        from tempo_coach.report.pages.film import write_film_check

        with written_whole(refuse_existing(path, force=force), what="the film") as temporary:
            write_film_check(temporary, filmed, progress=progress)


def _onto_music(args: argparse.Namespace, plan: Plan | None, filmed: FilmTrace) -> Trace:
    """The trace on the clock of the plan, or of the recording, that is heard in the film."""
    from tempo_coach import coach
    from tempo_coach.cli.output import Progress, warn
    from tempo_coach.music.files.sound_file import read_sound
    from tempo_coach.observe.film.film_take import align_to_music, onto_take

    with Progress("finding the music in the film") as progress:
        if plan:
            found = coach.align_film(filmed.film, plan, warn=warn, progress=progress)
        else:
            speed = 1.0 if args.speed is None else args.speed
            music = read_sound(args.music)
            found = align_to_music(filmed.film, music, speed=speed, warn=warn, progress=progress)
    share = f"{100 * found.heard:.0f} % of where it was looked for"
    warn(f"The music was heard in {share}; the clocks differ by {found.rate_ppm:+.0f} ppm.")
    return onto_take(filmed, found.line)


def _format(filmed: FilmTrace) -> str:
    from tempo_coach.report.pages.film import sum_up

    film = filmed.film
    lines = [f"{film.path}: {film.width} × {film.height}, {len(filmed.trace.time)} pictures followed", sum_up(filmed)]
    for name, colour in zip(filmed.names, filmed.colours, strict=True):
        gaps = filmed.gaps(name)
        longest = max((end - start for start, end in gaps), default=0.0)
        count = "1 gap," if len(gaps) == 1 else f"{len(gaps)} gaps, the longest"
        told = f", {count} {longest:.2f} s" if gaps else ", no gap"
        lines.append(f"  {name} ({colour.name}): seen in {100 * filmed.share_seen(name):.0f} % of the pictures{told}")
    lines += [f"{note[0].upper()}{note[1:]}." for note in filmed.notes if note not in film.notes]
    return "\n".join(lines)


def _to_dict(filmed: FilmTrace) -> dict[str, object]:
    film = filmed.film
    return {
        "film": {
            "width": film.width,
            "height": film.height,
            "rate_hz": round(film.rate_hz, 4),
            "slowed": film.slowed,
            "pictures": len(filmed.trace.time),
            "start_s": round(float(filmed.trace.time[0]), 6),
            "end_s": round(float(filmed.trace.time[-1]), 6),
            "has_sound": film.has_sound,
        },
        "markers": [
            {
                "name": name,
                "colour": colour.name,
                "seen": round(filmed.share_seen(name), 4),
                "gaps": [[round(start, 4), round(end, 4)] for start, end in filmed.gaps(name)],
            }
            for name, colour in zip(filmed.names, filmed.colours, strict=True)
        ],
        "notes": list(filmed.notes),
    }

"""``tempo-coach score``: what was done against a plan, and into the history."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.film_options import CARE, add_following
from tempo_coach.cli.options import add_json, add_passage, examples
from tempo_coach.cli.trace import add_reading, names
from tempo_coach.observe.observers import SOUNDS
from tempo_coach.report.words.observers import say_recorded

if TYPE_CHECKING:
    import argparse

    from tempo_coach.coach import Placed
    from tempo_coach.score.card import Scorecard


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = (
        "Say which cycle broke and how: what was done, as a table of onsets, a sensor's or tracker's "
        "table, a film or a recording, is set against a plan. Or a take of practise is judged again."
    )
    parser.epilog = examples(
        "tempo-coach score onsets.csv --plan mills.json --keep Ada",
        "tempo-coach score wrist.csv --drill rope_figure_eight --tempo 120 --cycles 8",
        "tempo-coach score --sound gym.wav --kind clap --plan mills.json",
    )
    parser.add_argument(
        "onsets",
        metavar="TABLE.csv",
        nargs="?",
        help="columns time (in s from the first sound of the take) and hand; or a trace: times and positions or "
        "readings",
    )
    which = parser.add_mutually_exclusive_group(required=True)
    which.add_argument("--plan", metavar="PLAN.json", help="the plan that cue wrote")
    which.add_argument("--drill", metavar="DRILL", help="a drill, with the options that cue was given")
    which.add_argument("--take", metavar="FILE", help="a take that practise recorded, with its plan and onsets")
    add_passage(parser)
    group = parser.add_argument_group("how a trace is read and put on the take clock (by default where it fits best)")
    add_reading(group)
    group.add_argument(
        "--against",
        type=names,
        default=(),
        metavar="C,D",
        help="point or columns of a second mover, such as the other hand",
    )
    placed = group.add_mutually_exclusive_group()
    placed.add_argument(
        "--clap",
        type=float,
        nargs=2,
        metavar=("ON_TRACE", "ON_TAKE"),
        help="seconds at which both have one and the same clap",
    )
    placed.add_argument(
        "--started",
        metavar="WHEN",
        help="date and time at which the sound of the take began, where the table has dates",
    )
    filmed = parser.add_argument_group("a film, put on the take clock by the music in its sound, or by --clap", CARE)
    filmed.add_argument("--film", metavar="FILE", help="follow markers in this film instead of reading a table")
    filmed.add_argument(
        "--marks", metavar="CSV", help="what you marked in the film by hand: columns frame (from 0) or time, and hand"
    )
    filmed.add_argument(
        "--fps",
        type=float,
        metavar="N",
        help="pictures a second by which the frames of --marks were counted (default: the film's)",
    )
    add_following(filmed)
    heard = parser.add_argument_group(
        "a recording made while the music played, put on the take clock by it, or by --clap; nothing of it is kept"
    )
    heard.add_argument(
        "--sound", metavar="FILE", help="hear what was done in this recording instead of reading a table"
    )
    heard.add_argument(
        "--kind",
        choices=tuple(SOUNDS),
        help=f"what is heard in it: {say_recorded()}; with --film, in the film's sound instead of its picture",
    )
    heard.add_argument("--of", type=names, default=(), metavar="A,B", help="the hands that can be heard (default: all)")
    heard.add_argument(
        "--quiet", metavar="S-S", help="with --sample: where in the recording, before the music, nothing is done"
    )
    heard.add_argument("--sample", metavar="S-S", help="where, before the music, the sound is made a few times")
    kept = parser.add_argument_group("the history")
    kept.add_argument("--keep", metavar="ATHLETE", help="put the take into the history in her name")
    kept.add_argument(
        "--begun", metavar="TIME", help="date and time of the take, such as 2031-05-04T18:15 (default: its own, or now)"
    )
    kept.add_argument(
        "--routine", metavar="NAME", help="the routine that it belongs to, or its file (default: the music's name)"
    )
    kept.add_argument("--note", default="", metavar="TEXT", help="what is worth remembering of it")
    add_json(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from functools import partial

    from tempo_coach import coach
    from tempo_coach.cli.observed import find_take
    from tempo_coach.cli.output import print_json
    from tempo_coach.history.records import read_name
    from tempo_coach.report.words.card import card_to_dict, format_card
    from tempo_coach.report.words.flights import boomerangs_to_list, format_boomerangs, format_throws, throws_to_list
    from tempo_coach.report.words.places import say_cycle
    from tempo_coach.score.trace.boomerang import has_boomerangs, judge_boomerangs
    from tempo_coach.score.trace.throws import judge_throws

    if args.keep is not None:
        read_name(args.keep)  # refused before anything is read
    placed, begun, setup = find_take(args)
    card = coach.judge_placed(placed)
    boomerangs = judge_boomerangs(card.plan, card.asynchrony) if has_boomerangs(card.plan) else ()
    throws = judge_throws(card.plan, card.asynchrony)
    if args.json:
        values = card_to_dict(card)
        if boomerangs:
            values["boomerangs"] = boomerangs_to_list(boomerangs, placed=card.placed)
        if throws:
            values["throws"] = throws_to_list(throws, placed=card.placed)
        print_json(values)
    else:
        told = [format_card(card)]
        if boomerangs:
            told.append(format_boomerangs(boomerangs, say_where=partial(say_cycle, card)))
        if throws:
            told.append(format_throws(throws, say_where=partial(say_cycle, card)))
        print("\n\n".join(told), flush=True)
    if args.keep is not None:  # whatever becomes of that, the card is there
        _keep(args, placed, card, begun, setup)
    return 0


def _keep(args: argparse.Namespace, placed: Placed, card: Scorecard, begun: str, setup: dict[str, object]) -> None:
    from datetime import datetime

    from tempo_coach.cli.output import say
    from tempo_coach.coach import archiving

    now = datetime.now().astimezone().isoformat(timespec="seconds")
    number = archiving.keep_take(
        placed.take,
        athlete=args.keep,
        begun=args.begun or begun or now,
        card=card,
        routine=None if args.routine is None else archiving.name_routine(args.routine),
        setup={**setup, **archiving.say_placing(placed)},
        note=args.note,
    )
    say(f"Kept as take {number} of {args.keep}.")

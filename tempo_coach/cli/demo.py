"""``tempo-coach demo``: the main job once, on invented music and an invented gymnast."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import add_force, examples
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse

#: What the invented gymnast practises: two cycles an eight, from the second eight, over the slowing and the pause.
DRILL = "rope_figure_eight"
FROM_EIGHT, EIGHTS = 2, 8


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr(
        "Run the main job once, without any device: hear invented music, lay a drill on it, write the cue file and "
        "the plan, and score an invented gymnast's onsets."
    )
    parser.epilog = examples("tempo-coach demo --out demo")
    parser.add_argument("--out", metavar="DIR", help="where to put the files (default: a new temporary folder)")
    add_force(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    import json
    import tempfile
    from pathlib import Path

    from tempo_coach import coach
    from tempo_coach.cli.output import say, write_text
    from tempo_coach.errors import CoachError
    from tempo_coach.resources import refuse_existing
    from tempo_coach.signs import cells

    folder = Path(args.out) if args.out else Path(tempfile.mkdtemp(prefix="tempo_coach_demo_"))
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise CoachError("demo.folder_not_made", where=str(folder), reason=error.strerror) from error
    names = ("music.wav", "cues.wav", "plan.json", "onsets.csv", "scorecard.json")
    music, cues, plan_file, onsets_file, card_file = (refuse_existing(folder / n, force=args.force) for n in names)

    say("Loading the sound libraries (the first time this takes a while) …")
    from tempo_coach.coach.files import plan_to_dict, write_sound
    from tempo_coach.demo import compose, invent_onsets
    from tempo_coach.report.words.card import card_to_dict, format_card
    from tempo_coach.report.words.heard_music import format_heard

    say("Composing 80 seconds of invented music, with a slowing and a pause …")
    write_sound(music, compose().sound, overwrite=args.force)
    say("Hearing it as counts of eight …")
    heard = coach.hear(music)
    print(format_heard(heard))
    say(
        tr(
            "Laying {drill} on eights {from_eight} to {from_eight_2}, and mixing its cues into the music …",
            drill=DRILL,
            from_eight=FROM_EIGHT,
            from_eight_2=FROM_EIGHT + EIGHTS - 1,
        )
    )
    request = coach.Request(DRILL, music=str(music), from_eight=FROM_EIGHT, eights=EIGHTS)
    plan = coach.lay(request, heard=heard)
    write_sound(cues, coach.cue_sound(plan, music=heard.sound), overwrite=args.force)
    write_text(plan_file, json.dumps(plan_to_dict(plan), indent=1) + "\n", force=args.force)
    say(tr("Inventing a gymnast with one long cycle and one late circle, and scoring her …") + "\n")
    onsets = invent_onsets(plan)
    rows = "".join(cells([f"{time:.6f}", hand]) for time, hand in zip(onsets.time, onsets.hand, strict=True))
    write_text(onsets_file, f"time,hand\n{rows}", force=args.force)
    card = coach.judge_file(onsets_file, plan)
    write_text(card_file, json.dumps(card_to_dict(card), indent=1) + "\n", force=args.force)
    print(format_card(card))
    print("\n" + tr("Music and gymnast are invented. The files are in {folder}:", folder=folder))
    print(f"  {', '.join(names)}")
    print(tr("Score it again:  tempo-coach score onsets.csv --plan plan.json   (in that folder)"))
    return 0

"""``tempo-coach completion``: what the shell needs to complete commands and options."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse

SHELLS = ("bash", "zsh", "tcsh")


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "completion",
        help="print what a shell needs to complete commands and options",
        description="Print a script with which a shell completes commands and options when Tab is pressed.",
        epilog='Example: eval "$(tempo-coach completion bash)"',
    )
    parser.add_argument("shell", choices=SHELLS, help="which shell")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    import shtab

    from tempo_coach.cli import build_parser

    print(shtab.complete(build_parser(), shell=args.shell))
    return 0

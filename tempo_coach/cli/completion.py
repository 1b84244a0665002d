"""``tempo-coach completion``: what the shell needs to complete commands and options."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import examples
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse

SHELLS = ("bash", "zsh", "tcsh")


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr(
        "Print what your terminal needs so that Tab completes commands and options. Its file for settings (for bash "
        '~/.bashrc) takes the line: eval "$(tempo-coach completion bash)"'
    )
    parser.epilog = examples("tempo-coach completion bash")
    parser.add_argument("shell", choices=SHELLS, help="which one your terminal runs")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    import shtab

    from tempo_coach.cli import build_parser

    print(shtab.complete(build_parser(), shell=args.shell))
    return 0

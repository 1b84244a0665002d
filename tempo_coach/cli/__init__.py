"""The command line: parse, call :mod:`tempo_coach.coach`, print. The only place with exit codes.

Each command is a module beside this one (``listen``, ``practise``, ``score`` ...) with ``add(parser)`` and
``run(args)``, imported when it is named on the command line. What they share is in ``options``, ``output`` and
``shown``. They import what they need inside ``run``, so that ``tempo-coach --help`` loads little but argparse.
"""

from __future__ import annotations

import argparse
import errno
import os
import re
import sys
from importlib import import_module
from typing import TYPE_CHECKING, Any, NoReturn

from tempo_coach import __version__
from tempo_coach.cli import shown
from tempo_coach.cli.options import EXAMPLE, examples, quoted, read_number, read_whole
from tempo_coach.cli.shown import shown_output
from tempo_coach.errors import CoachError, WrongUsage, nearest
from tempo_coach.languages import in_english, tr

if TYPE_CHECKING:
    from collections.abc import Callable, Container, Iterable, Sequence

#: Libraries of linear algebra are held to one thread where the user says nothing else: the matrices here are small, and
#: on a busy machine the threads of one product wait for each other, ten times as long as the product takes.
ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS")
#: What each is for, in the order in which the help names them.
COMMANDS = {
    "demo": "run the main job once on invented music and an invented gymnast",
    "drills": "list the drills, draw one, or begin a new one",
    "listen": "find beats, counts of eight and doubtful places in music",
    "counts": "set the counts of a piece of music, or go on with a routine, on the screen",
    "cut": "cut a piece of music to a routine's length, on its counts",
    "sheet": "write a routine as a count sheet to print",
    "check": "hold a routine's length against a table of rules",
    "cue": "write music and cues of a drill or a routine to a sound file",
    "countfilm": "write the music with the big count as a film for phones and halls",
    "practise": "practise a drill, or a stretch of a routine, on the screen, with cues and the count",
    "score": "judge onsets or a trace against a plan: which cycle broke and how",
    "trace": "find cycles and circles in a sensor's or tracker's table",
    "film": "follow markers in a phone's film to a trace",
    "learn": "make a drill of a good take's trace",
    "compare": "set what a drill teaches beside what a trace shows",
    "toss": "plan a toss: counts to height, speed and angle, and back",
    "group": "judge a group: who is early, who is late, where it falls apart",
    "history": "the takes that were kept: find, open, note, trend, export, backup",
    "today": "a session made for one person today, or the lists of a group",
    "goal": "what is to be even by when, and whether it is on the way",
    "report": "a page with pictures of a take, an athlete or a group, to read and print",
    "correct": "put a take of the history right: whose it is, its drill, whether it counts; and undo that",
    "share": "merge the histories of two machines, hand one athlete's takes over, write all for other programs",
    "forget": "remove an athlete and all her takes for good",
    "calibrate": "measure how late keyboard, loudspeaker and microphone are, and take it out of every take",
    "doctor": "say what works on this machine, and what to do about the rest",
    "completion": "have Tab complete commands and options in the terminal",
}

LANGUAGE_HELP = "the language that everything is said in, for example de (default: the set-up's, else the system's)"

OK, FAILED, USAGE, INTERRUPTED = 0, 1, 2, 130
#: So many choices are told in a sentence; more are looked up in the help.
FEW = 8

#: Stands for an option while words are read, until it is given.
_NOT_GIVEN = object()
#: What no word on a command line is made of, though a system may hand it on: bytes that are no letters.
_NO_TEXT = re.compile("[\ud800-\udfff\0]")

#: What is expected behind an option by how many values it takes, where a number stands for itself.
_EXPECTED_WORDS: dict[int | str | None, str] = {
    None: "expected a value behind it",
    argparse.OPTIONAL: "expected at most one value behind it",
    argparse.ONE_OR_MORE: "expected a value or more behind it",
}


class HelpLayout(argparse.HelpFormatter):
    """Formats help in her language; wraps everything but examples, which are to be copied."""

    def add_usage(
        self,
        usage: str | None,
        actions: Iterable[argparse.Action],
        groups: Iterable[argparse._MutuallyExclusiveGroup],
        prefix: str | None = None,
    ) -> None:
        """Begin with how a command is written."""
        super().add_usage(usage, actions, groups, tr("usage: ") if prefix is None else prefix)

    def start_section(self, heading: str | None) -> None:
        """Begin a section under its heading."""
        super().start_section(tr(heading) if heading else heading)

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        if text.startswith(EXAMPLE):
            return text.replace(EXAMPLE, tr("Example: "))
        return super()._fill_text(tr(text), width, indent)

    def _get_help_string(self, action: argparse.Action) -> str | None:
        return tr(action.help) if action.help else action.help

    def _metavar_formatter(self, action: argparse.Action, default_metavar: str) -> Callable[[int], tuple[str, ...]]:
        names = super()._metavar_formatter(action, default_metavar)
        named = action.metavar not in (None, action.dest)  # a command is called what it is typed as
        return lambda size: tuple(tr(name) if named else name for name in names(size))


class Parser(argparse.ArgumentParser):
    """An argument parser for people who do not program: its errors suggest the nearest word and the next step."""

    def __init__(self, *, prog: str | None = None, **told: str) -> None:
        super().__init__(
            prog=prog,
            description=told.get("description"),
            epilog=told.get("epilog"),
            formatter_class=HelpLayout,
            add_help=False,
            exit_on_error=False,  # what went wrong is told here, by what it is
        )
        self._reading = argparse.Namespace()
        self.color = False  # from Python 3.14 on: help is words alone
        self.register("type", float, read_number)
        self.register("type", int, read_whole)
        self._positionals.title, self._optionals.title = tr("what to name"), tr("options")
        self.add_argument("-h", "--help", action="help", help="show this and do nothing else")

    def error(self, message: str) -> NoReturn:
        """Print one sentence and leave with the code for wrong usage."""
        self._explain(argparse.ArgumentError(None, message))

    def _explain(self, error: argparse.ArgumentError) -> NoReturn:
        """Say what is wrong, from what is missing or mutually exclusive; the library's words are the last resort."""
        if error.argument_name is None:
            missing = [_name(action) for action in self._actions if action.required and not self._is_given(action)]
            if missing:
                self._refuse(tr("{names} is missing", names=", ".join(missing)), None)
            for group in self._mutually_exclusive_groups:
                if group.required and not any(map(self._is_given, group._group_actions)):  # noqa: SLF001  it has no other
                    choice = " ".join(map(_name, group._group_actions))  # noqa: SLF001  it has no other
                    self._refuse(tr("expected one of {choice}", choice=choice), None)
            self._refuse(error.message, None)
        for group in self._mutually_exclusive_groups:
            names = [_name(action) for action in group._group_actions if self._is_given(action)]  # noqa: SLF001  as above
            others = [name for name in names if name != error.argument_name]
            if others and error.argument_name in map(_name, group._group_actions):  # noqa: SLF001  as above
                self._refuse(
                    tr(
                        "{argument_name} does not go together with {other}",
                        argument_name=error.argument_name,
                        other=others[0],
                    ),
                    None,
                )
        self._refuse(f"{error.argument_name}: {error.message}", None)

    def _is_given(self, action: argparse.Action) -> bool:
        value = getattr(self._reading, action.dest, None)
        return value is not None and value is not _NOT_GIVEN

    def _match_argument(self, action: argparse.Action, arg_strings_pattern: str) -> int:
        """Refuse an option with a wrong number of values."""
        try:
            return super()._match_argument(action, arg_strings_pattern)
        except argparse.ArgumentError:
            expected = _EXPECTED_WORDS.get(action.nargs) or tr("expected {nargs} values behind it", nargs=action.nargs)
            self._refuse(tr("{name}: {said}", name=_name(action), said=tr(expected)), None)

    def _get_values(self, action: argparse.Action, arg_strings: list[str]) -> Any:
        """Refuse a value that its type rejects, in the type's words."""
        try:
            return super()._get_values(action, arg_strings)
        except argparse.ArgumentError as error:
            self._refuse(f"{error.argument_name}: {error.message}", None)

    def _get_option_tuples(self, option_string: str) -> list[Any]:
        """Refuse an ambiguous abbreviation."""
        found = super()._get_option_tuples(option_string)
        if len(found) > 1:
            options = ", ".join(each[1] for each in found)
            self._refuse(
                tr(
                    "ambiguous option: {option_string} could match {options}",
                    option_string=option_string,
                    options=options,
                ),
                None,
            )
        return found

    def _check_value(self, action: argparse.Action, value: object) -> None:
        """Refuse a value outside the choices, and suggest the nearest."""
        if action.choices is None or value in action.choices:
            return
        choices = [str(choice) for choice in action.choices]
        there = tr(", but {names}", names=", ".join(choices)) if len(choices) <= FEW else ""
        option = f"{'/'.join(action.option_strings)}: " if action.option_strings else ""
        self._refuse(
            tr("{option}there is no {quoted} here{there}", option=option, quoted=quoted(str(value)), there=there),
            nearest(str(value), choices),
        )

    def parse_known_args(  # type: ignore[override]  # argparse's own has overloads for namespaces of one's own
        self, args: Sequence[str] | None = None, namespace: argparse.Namespace | None = None
    ) -> tuple[argparse.Namespace, list[str]]:
        """Parse, and refuse what is not known here, where the options are known that it may have been meant to be."""
        args = sys.argv[1:] if args is None else list(args)
        for word in args:
            if _NO_TEXT.search(word):
                self._refuse(
                    tr("expected letters, got {quoted}, which has something else among them", quoted=quoted(word)), None
                )
        namespace = argparse.Namespace() if namespace is None else namespace
        asked = [action for action in self._actions if action.option_strings and action.default != argparse.SUPPRESS]
        for action in asked:
            # argparse puts in no default where something stands; a list it adds to
            setattr(namespace, action.dest, None if isinstance(action.default, list) else _NOT_GIVEN)
        self._reading = namespace
        try:
            known, unknown = super().parse_known_args(args, namespace)
        except argparse.ArgumentError as error:
            self._explain(error)
        # of a command's own options, not of those before it
        known.given = getattr(known, "given", frozenset()) | {
            action.dest for action in asked if getattr(known, action.dest) not in (None, _NOT_GIVEN)
        }
        for action in asked:
            if action.dest not in known.given:
                setattr(known, action.dest, action.default)
        if unknown and unknown[0].startswith("-"):
            options = [option for action in self._actions for option in action.option_strings]
            self._refuse(
                tr("there is no option {unknown}", unknown=unknown[0]), nearest(unknown[0].split("=")[0], options)
            )
        if unknown:
            self._refuse(tr("{quoted} is one word too many", quoted=quoted(unknown[0])), None)
        return known, unknown

    def _refuse(self, message: str, guess: str | None) -> NoReturn:
        asked = tr("Did you mean {guess}? ", guess=guess) if guess else ""
        print(
            tr(
                "{prog}: {message}. {asked}{prog} --help shows what there is.",
                prog=self.prog,
                message=message,
                asked=asked,
            ),
            file=sys.stderr,
        )
        sys.exit(USAGE)


def _name(action: argparse.Action) -> str:
    """Return the name of an argument as the library shows it."""
    return "/".join(action.option_strings) or tr(str(action.metavar or action.dest))


def build_parser(named: Container[str] = COMMANDS) -> Parser:
    """Return the parser that knows every command, with the options of those that are named."""
    parser = Parser(
        prog="tempo-coach",
        description="A rhythm and timing coach for rhythmic gymnasts: counts from music, cues to practise with, and "
        "what was early, late or uneven. Without a command it opens the screens. Each command has its own help: "
        "tempo-coach cue --help.",
        epilog=examples("tempo-coach demo"),
    )
    parser.add_argument(
        "--version", action="version", version=f"tempo-coach {__version__}", help="show which version this is"
    )
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands")
    for name, purpose in COMMANDS.items():
        command = commands.add_parser(name, help=purpose)
        if name in named:
            import_module(f"tempo_coach.cli.{name}").add(command)
    for each in (parser, *commands.choices.values()):
        default = None if each is parser else argparse.SUPPRESS
        each.add_argument("--plain", action="store_true", default=default or False, help=shown.HELP)
        each.add_argument("--language", metavar="CODE", default=default, help=LANGUAGE_HELP)
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 0 ok, 1 failed, 2 wrong usage.

    Parameters
    ----------
    argv : sequence of str or None
        By default those of the process.
    """
    for name in ONE_THREAD:
        os.environ.setdefault(name, "1")
    with shown_output():
        _choose_language(sys.argv[1:] if argv is None else argv)
        return _run(argv)


def _choose_language(words: Sequence[str]) -> None:
    """Switch to her language; where it does not exist, say so once and go on in English."""
    from tempo_coach.languages.choice import choose_language, kept_file

    if asked := choose_language(words, kept_file()):
        from tempo_coach.languages.catalogue import list_languages

        known = list_languages()
        what = "cannot be read: install tempo_coach again" if asked in known else f"is none of {', '.join(known)}"
        print(f"tempo-coach: the language {quoted(asked)} {what}; this is in English.", file=sys.stderr)


def _run(argv: Sequence[str] | None) -> int:
    words = sys.argv[1:] if argv is None else argv
    try:
        args = build_parser(words).parse_args(words)
        args.plain = shown.is_plain(args)
        if args.command is None:
            from tempo_coach.ui import open_screens

            return open_screens(plain=args.plain)
        from tempo_coach.cli.asked_columns import run_asking
        from tempo_coach.resources import keeping_what_is_read

        # what programs read is English
        data = getattr(args, "json", False)
        with keeping_what_is_read(), shown.plain_output(on=args.plain and not data):
            code = in_english(run_asking)(args) if data else run_asking(args)
        sys.stdout.flush()
    except CoachError as error:
        from tempo_coach.report.words.errors import say_error

        print(tr("tempo-coach: {error}", error=say_error(error)), file=sys.stderr)
        return USAGE if isinstance(error, WrongUsage) else FAILED
    except KeyboardInterrupt:
        print(tr("tempo-coach: stopped."), file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:
        # whoever read the output has seen enough; what is still buffered has nowhere to go
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FAILED
    except OSError as error:
        # whatever the system refuses is no fault of the program: a name too long, no right, a disk that went away
        where = f"{error.filename}: " if error.filename else ""
        what = tr("there is no room for what is written") if error.errno == errno.ENOSPC else tr("this cannot be used")
        print(
            tr("tempo-coach: {where}{what} ({strerror}).", where=where, what=what, strerror=error.strerror or error),
            file=sys.stderr,
        )
        return FAILED
    return code

"""Practice and set-up line by line, for a screen reader, with single keys and their clock readings."""

from __future__ import annotations

import contextlib
import os
import select
import signal
import sys
from dataclasses import replace
from time import perf_counter, sleep
from typing import TYPE_CHECKING, NamedTuple, NoReturn

from tempo_coach.coach.notices import tell
from tempo_coach.coach.practising.conductor import HOLD_AFTER, Conductor
from tempo_coach.coach.practising.form_line import DEFAULT, say_line
from tempo_coach.errors import CoachError
from tempo_coach.languages import tr
from tempo_coach.live.practice.hand_keys import default_keys
from tempo_coach.live.practice.session import Stage
from tempo_coach.report.drawings.plain import plain_text
from tempo_coach.report.words.amounts import several
from tempo_coach.report.words.card import format_card
from tempo_coach.report.words.errors import say_error
from tempo_coach.report.words.practising import say_key
from tempo_coach.report.words.reasons import say_note
from tempo_coach.ui.practice.told_take import tell_take
from tempo_coach.ui.terminal import SIGNALLED

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from tempo_coach.coach.practising.form import Form
    from tempo_coach.coach.practising.form_line import Line
    from tempo_coach.coach.practising.practice import FinishedTake, PracticeContext
    from tempo_coach.coach.practising.runner import Result
    from tempo_coach.live.notices import Notice
    from tempo_coach.live.practice.session import PracticeState

#: Seconds between two looks where the system cannot be waited for.
KEY_POLL = 0.002
_NAMES = {"\r": "enter", "\n": "enter", "\x11": "ctrl+q", "\x03": "ctrl+c", "\x7f": "backspace", " ": "space"}


class Stamped(NamedTuple):
    """A key by the screens' name, and its stamp."""

    key: str
    stamp: float


def name_keys(text: str, stamp: float) -> list[Stamped]:
    r"""Return the keys in a chunk of input; those of several characters (arrows) are left out.

    Examples
    --------
    >>> [key for key, _ in name_keys("j\r", 0.0)]
    ['j', 'enter']
    >>> name_keys("\x1b[A", 0.0)
    []
    """
    if text.startswith("\x1b"):
        return []
    return [Stamped(_NAMES.get(sign, sign), stamp) for sign in text if sign in _NAMES or sign.isprintable()]


@contextlib.contextmanager
def open_keys() -> Iterator[Callable[[float], list[Stamped]]]:
    """Deliver keys as they are pressed, without Enter or echo, until the block ends.

    Yields
    ------
    callable
        Waits at most that many seconds and returns what was pressed.
    """
    if sys.platform == "win32":
        yield _wait_on_windows
        return
    import termios

    file = sys.stdin.fileno()
    before = termios.tcgetattr(file)
    changed = termios.tcgetattr(file)
    changed[0] &= ~(termios.IXON | termios.ICRNL)  # Ctrl+Q would wake up the terminal instead of coming here
    changed[3] &= ~(termios.ICANON | termios.ECHO | termios.ISIG)
    termios.tcsetattr(file, termios.TCSADRAIN, changed)

    def wait(seconds: float) -> list[Stamped]:
        if not select.select([file], [], [], seconds)[0]:
            return []
        stamp = perf_counter()
        read = os.read(file, 64)
        return name_keys(read.decode("utf-8", "ignore"), stamp) if read else [Stamped("ctrl+q", stamp)]

    try:
        yield wait
    finally:
        with contextlib.suppress(termios.error):  # the terminal was closed
            termios.tcsetattr(file, termios.TCSADRAIN, before)


def _wait_on_windows(seconds: float) -> list[Stamped]:
    import msvcrt

    end = perf_counter() + seconds
    while perf_counter() < end:
        if msvcrt.kbhit():  # type: ignore[attr-defined, unused-ignore]  # there on Windows alone
            return name_keys(msvcrt.getwch(), perf_counter())  # type: ignore[attr-defined, unused-ignore]
        sleep(KEY_POLL)
    return []


if TYPE_CHECKING:
    from tempo_coach.live.notices import Notice

    Say = Callable[[str], None]

#: Seconds for which keys are waited for at a time; sound and session are looked at as often.
LOOK_EVERY = 0.02
LEAVE_KEYS = ("ctrl+q", "ctrl+c")
_AFTER = (Stage.AFTER, Stage.RESTING)


def practise_in_lines(
    context: PracticeContext,
    wait: Callable[[float], list[Stamped]],
    say: Say,
    *,
    clock: Callable[[], float] = perf_counter,
) -> Conductor:
    """Run a practice without a screen, until she leaves, and return it.

    Parameters
    ----------
    wait : callable
        Waits at most that many seconds and returns the keys that were pressed.
    say : callable
        Prints one line.
    clock : callable
        ``time.perf_counter`` but in tests.
    """
    say(tr("{title}. Ctrl+Q leaves at any time; what was tapped is kept.", title=tr(context.plan.title)))
    if context.caution:
        say(tr("Mind: {caution}.", caution=tr(context.caution)))
    conductor = Conductor(context, aside=_at_once, clock=clock)
    said: tuple[object, ...] = ()
    notice: Notice | None = None
    try:
        while True:
            conductor.tick()
            session = conductor.session
            # the hand that is asked for changes within a stage
            now = (session.stage, session.asked_hand, session.number)
            if now != said:
                said = now
                for line in lines_of(session, conductor.takes.done):
                    say(line)
            if session.notice != notice:
                notice = session.notice
                if notice is not None:
                    say(tell(notice))
            for key, stamp in wait(LOOK_EVERY):
                if key in LEAVE_KEYS:
                    return conductor
                _press(conductor, key, stamp, clock())
    finally:
        conductor.leave()


def run_in_lines(context: PracticeContext) -> None:
    """Practise in this terminal, line by line.

    Raises
    ------
    CoachError
        If there is no terminal to read keys from, or the samples cannot be made.
    """
    from tempo_coach.ui.practice.elsewhere import ask_elsewhere
    from tempo_coach.ui.terminal import check_terminal, leaving_when_told, screen_to_itself

    check_terminal()
    with screen_to_itself(), leaving_when_told(_stop), open_keys() as wait:
        conductor = practise_in_lines(context, wait, _print)
    ask_elsewhere(conductor, input, _print)


def _stop(number: int) -> NoReturn:
    if number == getattr(signal, "SIGHUP", None):  # nobody reads what is printed from here on
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    raise SystemExit(SIGNALLED + number)


def open_in_lines() -> int:
    """Ask for the set-up line by line, practise, and return an exit code."""
    from tempo_coach import coach
    from tempo_coach.coach.drills import list_names_of_drills, list_titles, own_drills
    from tempo_coach.coach.practising.form import make_form
    from tempo_coach.coach.practising.start import prepare_from_form
    from tempo_coach.ui.terminal import check_terminal

    check_terminal()
    form = make_form(list_names_of_drills())
    drill = coach.load_drill(form.value("drill"))
    form = form.for_drill(drill).with_labels("drill", list_titles(own_drills()))
    if _ask(tr("Enter practises {title}, as usual. Anything else asks line by line: ", title=tr(drill.title))):
        form = ask_form(form, _ask, _print)
    request = form.request()
    heard = None
    if request.music:
        _print(tr("Hearing the music. This takes a moment."))
        heard = coach.hear_request(request, warn=lambda note: _print(say_note(note)))
    run_in_lines(prepare_from_form(form, heard))
    return 0


def _ask(question: str) -> str:
    print(question, end="", flush=True)  # noqa: T201  shown as whatever is printed, which input's own prompt is not
    return input()


def _print(line: str) -> None:
    print(line, flush=True)  # noqa: T201  there is no screen: this is what it is


def lines_of(session: PracticeState, done: list[FinishedTake]) -> list[str]:
    """Return the text at the beginning of a stage of a practice."""
    plan = session.plan
    match session.stage:
        case Stage.ASKING:
            hand = session.asked_hand or session.hands[0]
            usual = say_key(dict(default_keys(session.hands, session.keys))[hand])
            return [tr("Press the key for {hand}, or Enter for the usual one, {usual}.", hand=tr(hand), usual=usual)]
        case Stage.WAITING:
            keys = ", ".join(f"{tr(hand)} {say_key(key)}" for hand, key in session.keys)
            return [f"{keys}." if keys else tr("Nobody taps."), tr("Enter starts.")]
        case Stage.WALKING:
            return [tr("Walk in: {ready:.0f} seconds, counted aloud.", ready=session.way.ready)]
        case Stage.PLAYING:
            return [
                tr(
                    "The lead-in, then {cycles} at {tempo_bpm:.0f} a minute. Enter ends the take."
                    if session.tempo_bpm
                    else "The lead-in, then {cycles}. Enter ends the take.",
                    cycles=several(plan.cycles, "cycle"),
                    tempo_bpm=session.tempo_bpm,
                )
            ]
        case Stage.PAUSED:
            return [tr("The take is paused.")]
        case Stage.RESTING:
            return [
                *_told(done, session),
                tr("The next take comes in {rest:.0f} seconds. Enter: stay here.", rest=session.way.rest),
            ]
        case Stage.AFTER:
            return [*_told(done, session), tr("Enter: again. Ctrl+Q: leave.")]
        case _:
            return []


def ask_form(form: Form, ask: Callable[[str], str], say: Say) -> Form:
    """Return the set-up after asking line by line; an empty answer keeps a line.

    Parameters
    ----------
    ask : callable
        Prints a question and returns the answer.
    say : callable
    """
    say("Enter leaves a line as it stands, ? says what there is, - makes it as usual again.")
    for key in [line.key for line in form.lines]:
        while True:
            line = form.line(key)
            answer = ask(tr("{label}, now {line}: ", label=tr(line.label), line=say_line(line))).strip()
            if answer == "?":
                say(_tell_choices(line))
                continue
            try:
                form = form.put(answered(line, answer))
                if line.kind == "number":
                    form.line(key).number  # noqa: B018  refuses one that is out of its range
            except CoachError as error:
                form = form.put(line)
                say(say_error(error))
                continue
            break
    return form


def answered(line: Line, answer: str) -> Line:
    """Return a line after an answer.

    Raises
    ------
    CoachError
        If the line has choices and the answer begins none of them.
    """
    if answer == "":
        return line
    if answer == "-":
        return replace(line, value=DEFAULT) if line.kind != "choice" or DEFAULT in line.choices else line
    if line.kind != "choice":
        return replace(line, value=answer.replace(",", ".") if line.kind == "number" else answer)
    shown = {say_line(replace(line, value=choice)): choice for choice in line.choices}
    found = [choice for words, choice in shown.items() if answer.lower() in (words.lower(), choice.lower())]
    found += [choice for words, choice in shown.items() if words.lower().startswith(answer.lower())]
    if line.labels:
        found += replace(line, search=answer).found
    if not found:
        raise CoachError("line.no_choice", where=tr(line.label), known=list(shown), answer=answer)
    return replace(line, value=found[0])


def _tell_choices(line: Line) -> str:
    if line.kind == "number":
        return tr("A number from {low:g} to {high:g}.", low=line.low, high=line.high)
    if not line.choices:
        return tr("Words, typed.")
    return f"{', '.join(say_line(replace(line, value=choice)) for choice in line.choices)}."


def _told(done: list[FinishedTake], session: PracticeState) -> list[str]:
    if not done:
        return []
    last = done[-1]
    previous = done[-2].card if len(done) > 1 else last.before.card
    kept = tell(last.unkept, *last.told) or (
        tr("Kept in {path}.", path=last.path) if last.path else tr("Kept in memory alone.")
    )
    told = tell_take(last, previous, session, film_key=False)
    if not told.judged:
        return [told.why, told.say, kept]
    return [*plain_text(format_card(last.card, previous)).split("\n"), kept]


def _press(conductor: Conductor, key: str, stamp: float, now: float) -> None:
    session = conductor.session
    if key != "enter":
        conductor.press(key, stamp)
    elif session.stage not in _AFTER or now - session.since >= HOLD_AFTER:
        conductor.enter(stamp)


def _at_once(work: Callable[[], Result], then: Callable[[Result], None]) -> None:
    """Run slow work in place: no picture has to be kept alive."""
    then(work())

"""The form of a group: music or plan, and whose take, table or recording; Enter judges it."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from functools import partial
from queue import SimpleQueue
from threading import Thread
from typing import TYPE_CHECKING, ClassVar, NamedTuple

from textual.binding import Binding

from tempo_coach import coach
from tempo_coach.coach.choices import offer_members, offer_music, offer_plans
from tempo_coach.coach.drills import list_names_of_drills
from tempo_coach.coach.groups import GroupRequest, judge_group
from tempo_coach.coach.looking_back import find_history, list_teams_in, now, read_name
from tempo_coach.coach.practising.form import Form
from tempo_coach.coach.practising.form_line import DEFAULT, Line
from tempo_coach.errors import CoachError
from tempo_coach.languages import tr
from tempo_coach.observe.observers import SOUNDS
from tempo_coach.pattern.drill.drill import TEMPO_RANGE_BPM
from tempo_coach.report.words.errors import say_error
from tempo_coach.report.words.observers import WORDS as OBSERVERS
from tempo_coach.report.words.reasons import say_note
from tempo_coach.score.group.group import FLOOR, MEMBERS
from tempo_coach.ui.form import CHANGE_KEYS, CHOOSE_KEYS
from tempo_coach.ui.group import GroupScreen
from tempo_coach.ui.practice.afterwards import ReadingScreen
from tempo_coach.ui.screen import HELP, LEAVE

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from textual.binding import BindingType

    from tempo_coach.reasons import Note
    from tempo_coach.score.group.card import GroupCard
    from tempo_coach.ui.practice.afterwards import Read

#: Lines for members; more of them are given by a folder or one table of all.
ROWS = 12
WAY_WORDS = "their sound", "the markers in them", "the music in each recording", "one clap of all, before they begin"
HEARD, FOLLOWED, BY_MUSIC, BY_CLAP = WAY_WORDS
CARE = (
    "A member is a recording, a film, a table, a take, a number of the history (12, or Ada:last); Ada=FILE says whose "
    "it is. One recording of all in turn: Ada,Bea,Cyl=FILE. A folder is its files. Nothing is copied or sent; film and "
    "record minors only as their parents and club allow."
)
#: Lines of the form by the options of the command that say the same.
_LINES = {
    "--plan": "plan",
    "--kind": "heard in sound",
    "--film": "films",
    "--first-clap": "clocks by",
    "--keep": "keep as",
}


class ReadGroup(NamedTuple):
    """A group's card, notes from reading its members, and its number in the history (0 without)."""

    card: GroupCard
    notes: tuple[Note, ...]
    number: int


def make_group_form() -> Form:
    """Return the form: what the group is held against, how it is read, and its members."""
    slowest, fastest = TEMPO_RANGE_BPM
    kinds = tuple(OBSERVERS[kind].recorded for kind in SOUNDS)
    drills = tuple(list_names_of_drills())
    members = (
        Line(
            tr("member {number}", number=number),
            tr("member {number}", number=number),
            kind="text",
            default="a file, a folder, 12 or Ada:last",
        )
        for number in range(1, ROWS + 1)
    )
    return Form(
        (
            Line("music", "music", kind="text", default="no music"),
            Line("plan", "plan", kind="text", default="that of the takes, or every count"),
            Line("drill", "drill", DEFAULT, (DEFAULT, *drills), default="every count"),
            Line(
                "tempo",
                "tempo",
                kind="number",
                step=4,
                low=slowest,
                high=fastest,
                begin=100,
                default="as heard in the music",
                unit=tr("a minute"),
            ),
            *members,
            Line("kind", "heard in sound", DEFAULT, (DEFAULT, *kinds), default=kinds[0]),
            Line("films", "films", HEARD, (HEARD, FOLLOWED)),
            Line("clocks", "clocks by", BY_MUSIC, (BY_MUSIC, BY_CLAP)),
            Line(
                "hall",
                "hall",
                kind="number",
                high=1000,
                begin=FLOOR,
                default=tr("{floor:g} m to the loudspeaker for recordings", floor=FLOOR),
                unit=tr("m to the loudspeaker"),
            ),
            Line("keep", "keep as", kind="text", default="not kept; or the name of the group"),
        )
    )


def read_group_form(form: Form) -> GroupRequest:
    """Return the request that a form describes.

    Raises
    ------
    CoachError
        If a number is out of its range, or nobody is named.
    """
    rows = (_clean(form.value(tr("member {number}", number=number))) for number in range(1, ROWS + 1))
    sources = tuple(row for row in rows if row)
    if not sources:
        raise CoachError("group.size", where="member 1", low=MEMBERS[0], high=MEMBERS[1], found=0)
    music, tempo, drill = _clean(form.value("music")) or None, form.line("tempo").number, form.value("drill")
    kind = next((kind for kind in SOUNDS if OBSERVERS[kind].recorded == form.value("kind")), None)
    listening = coach.RecordingOptions(kind, form.value("films") == FOLLOWED, form.value("clocks") == BY_CLAP)
    return GroupRequest(
        sources,
        plan=_clean(form.value("plan")) or None,
        drill=coach.Request(drill, music=music, tempo_bpm=tempo) if drill else None,
        music=music,
        tempo_bpm=tempo,
        routine=music if music is not None and coach.is_routine(music) else None,
        hall=form.line("hall").number,
        listening=listening,
    )


def _clean(typed: str) -> str:
    """Return typed text without quotation marks around it, as after a drop."""
    return typed.strip().strip("'\"").strip()


def read_group(
    asked: GroupRequest, *, team: str, history: Path, progress: Callable[[float], None] | None = None
) -> ReadGroup:
    """Judge a group, and put it into the history where it has a name.

    Parameters
    ----------
    asked : GroupRequest
    team : str
        Its name in the history; empty where it is not kept.
    history : Path
    progress : callable or None

    Raises
    ------
    CoachError
        As :func:`tempo_coach.coach.groups.judge_group` and :func:`tempo_coach.coach.archiving.keep_group`.
    """
    notes: list[Note] = []
    group = judge_group(asked, history=history, warn=notes.append, progress=progress)
    number = 0
    if team:
        from tempo_coach.coach.archiving import keep_group

        number = keep_group(group, team=team, begun=now(), file=history)
    return ReadGroup(group.card, tuple(notes), number)


class GroupSetupScreen(ReadingScreen[ReadGroup]):
    """The form of a group; Enter judges it and opens its card.

    Parameters
    ----------
    form : Form or None
        As it was left the last time.
    here : Path or None
        The folder whose files are offered first.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "read", "judge", key_display="Enter", priority=True),
        *CHOOSE_KEYS,
        *CHANGE_KEYS,
        HELP,
        Binding("escape", "stop", "stop", key_display="Escape"),
        Binding("escape", "back", "back", key_display="Escape"),
        LEAVE,
    ]
    help_name = "set up a group"
    heading = "a group"
    reading = "reading the group"
    care = CARE

    def __init__(self, form: Form | None = None, *, here: Path | None = None) -> None:
        super().__init__(form or make_group_form())
        self._here = here
        self._offered: Sequence[str] = ()
        self._found: SimpleQueue[tuple[str, tuple[str, ...]]] = SimpleQueue()
        self._news = ""

    def on_mount(self) -> None:
        """Draw, and look round for what can be chosen."""
        super().on_mount()
        self.set_interval(0.1, self._take_found)
        Thread(target=self._look_round, daemon=True).start()

    def on_screen_resume(self) -> None:
        """Show the form again after the card."""
        self.call_after_refresh(self.draw)

    @property
    def told(self) -> Sequence[str]:
        """Result of the last group."""
        return [self._news] if self._news else []

    def form_changed(self, line: Line) -> None:
        """Offer each member the files that are nobody's yet."""
        self._news = ""
        if line.key.startswith("member "):
            self._offer()

    def ask(self) -> Read[ReadGroup]:
        """Return a function that judges the group of the form."""
        team = self.form.value("keep").strip()
        asked = read_group_form(self.form)
        return partial(read_group, asked, team=read_name(team) if team else "", history=find_history())

    def refused(self, error: CoachError) -> None:
        """Say why the group could not be judged, naming the line."""
        self.sentence = say_error(error.at(_LINES.get(error.where or "", error.where)))

    def finish(self, done: ReadGroup) -> None:
        """Open the card over the form."""
        self._share = None
        self.hold_still(False)
        team = self.form.value("keep").strip()
        self._news = tr("Kept as performance {number} of {team}.", number=done.number, team=team) if done.number else ""
        notes = tuple(dict.fromkeys(map(say_note, done.notes)))
        self.app.push_screen(GroupScreen(done.card, notes=notes, over_another=True))

    def _look_round(self) -> None:
        """Look for files to offer, in a thread."""
        history = find_history()
        self._found.put(("members", offer_members(history, here=self._here)))
        self._found.put(("music", (DEFAULT, *offer_music(history, here=self._here))))
        self._found.put(("plan", (DEFAULT, *offer_plans(here=self._here))))
        with suppress(CoachError):  # it says what is wrong with it where it is opened
            self._found.put(("keep", (DEFAULT, *list_teams_in(history))))

    def _take_found(self) -> None:
        while not self._found.empty():
            key, choices = self._found.get()
            if key == "members":
                self._offered = choices
                self._offer()
            else:
                self.form = self.form.with_choices(key, choices)

    def _offer(self) -> None:
        lines = [self.form.line(tr("member {number}", number=number)) for number in range(1, ROWS + 1)]
        taken = {line.value.partition("=")[2] or line.value for line in lines}
        form = self.form
        for line in lines:
            free = [each for each in self._offered if each not in taken or each == line.value]
            form = form.put(replace(line, choices=(DEFAULT, *free)))
        self.form = form

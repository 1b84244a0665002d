"""The keys of setting counts: steps from one setting to the next, and orders to the screen."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum, auto
from typing import TYPE_CHECKING

from textual.binding import Binding

from tempo_coach.coach.counting import edits
from tempo_coach.coach.counting.edits import clear_mark, go, put_mark
from tempo_coach.coach.counting.setting import beat_near, do, do_again, refuse, take_back, turn_to
from tempo_coach.errors import CoachError
from tempo_coach.music.counts.corrections import Correction
from tempo_coach.music.counts.count_map import Position
from tempo_coach.music.counts.renumber import WALTZ, modal_length
from tempo_coach.pattern.routine.routine import Steps
from tempo_coach.reasons import Reason, Why
from tempo_coach.ui.help import Help

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from tempo_coach.coach.counting.setting import Setting

    Edit = Callable[[Setting], Setting]


class Order(Enum):
    """Orders of keys to the screen."""

    LISTEN = auto()
    TAP = auto()
    TAP_ALL = auto()
    SAVE = auto()
    LEAVE = auto()
    HELP = auto()
    ASK = auto()
    LENGTH = auto()
    COUNT_ON = auto()
    HEAR_HALF = auto()
    HEAR_DOUBLE = auto()
    CUT = auto()
    HEAR_JOINT = auto()
    MAP = auto()


@dataclass(frozen=True)
class Key:
    """One entry of the table of keys.

    Parameters
    ----------
    keys : tuple of str
        As Textual calls them.
    shown, short, help : str
        How it is written; what it does in a word or two, empty where the foot leaves it out; and in a sentence.
    does : callable or Order
        A step from a setting to the next, or what the screen has to do.
    """

    keys: tuple[str, ...]
    shown: str
    short: str
    help: str
    does: Edit | Order


def find_key(name: str) -> Key:
    """Return the entry for a key."""
    return _BY_NAME[name]


def place_of(setting: Setting, beat: int | None = None) -> Position:
    """Return eight and count of a beat, by default of the current one."""
    beat = setting.beat if beat is None else beat
    return setting.counts.place(float(beat - setting.counts.eights[0][0]))


def do_all(setting: Setting, corrections: Sequence[Correction], news: Reason) -> Setting:
    """Return the setting after several corrections that are taken back together."""
    after = setting
    for correction in corrections:
        at = correction.times[0] if correction.times else correction.at
        after = do(after, correction, look_at=at)
        if after.failed:
            return replace(setting, news=after.news, failed=True)
    return replace(after, past=(*setting.past, setting.routine), news=news)


def _correction(name: str) -> Edit:
    return lambda setting: do(setting, Correction(name, setting.time))  # type: ignore[arg-type]  # one of the edits


def _thirds(setting: Setting) -> Setting:
    return edits.count_at(setting, 1 / 3 if modal_length(setting.counts) == WALTZ else 3.0)


def _drop(setting: Setting) -> Setting:
    """Drop the current count, and make the one after it current."""
    beats = setting.counts.beats
    behind = float(beats[min(setting.beat + 1, beats.size - 1)])
    return do(setting, Correction("drop", setting.time), look_at=behind)


def _first(setting: Setting) -> Setting:
    """Begin counting here: the first movement is count 1 of eight 1."""
    after = do(setting, Correction("first", setting.time))
    if after.failed:
        return after
    return replace(after, routine=replace(after.routine, first=Position(1, 1.0)))


def _last(setting: Setting) -> Setting:
    place = place_of(setting)
    if place.eight < 1:
        return refuse(setting, CoachError("movement.before_one"))
    after = turn_to(setting, replace(setting.routine, last=place), setting.counts)
    return replace(after, news=Reason(Why.LAST_MOVEMENT, (place.eight, place.count)))


def _steps(setting: Setting) -> Setting:
    if setting.mark is None:
        return refuse(setting, CoachError("steps.no_mark"))
    beats = sorted((setting.beat, beat_near(setting.counts, setting.mark)))
    start, end = place_of(setting, beats[0]), place_of(setting, beats[1])
    if beats[0] == beats[1] or start.eight < 1:
        return refuse(setting, CoachError("steps.backwards"))
    routine = replace(setting.routine, steps=(*setting.routine.steps, Steps(start, end)))
    return replace(turn_to(setting, routine, setting.counts), mark=None, news=Reason(Why.STEPS_MARKED))


def _take_off(setting: Setting) -> Setting:
    """Take off what lies on this eight: drills first, then tosses and catches, then dance steps."""
    routine, eight = setting.routine, place_of(setting).eight
    after = edits.take_off(setting)
    if after.routine != routine:
        return after
    moments = tuple(each for each in routine.moments if each.at.eight != eight)
    steps = tuple(each for each in routine.steps if not each.start.eight <= eight <= each.end.eight)
    changed = replace(routine, moments=moments) if moments != routine.moments else replace(routine, steps=steps)
    if changed == routine:
        return after
    return replace(turn_to(setting, changed, setting.counts), news=Reason(Why.TAKEN_OFF, (eight,)))


def _go(way: str) -> Edit:
    return lambda setting: go(replace(setting, news=None, failed=False), way)


def _page(by: int) -> Edit:
    def page(setting: Setting) -> Setting:
        for _ in range(abs(by)):
            setting = go(setting, "down" if by > 0 else "up")
        return setting

    return page


GROUPS: tuple[tuple[str, tuple[Key, ...]], ...] = (
    (
        "hear",
        (
            Key(("space",), "Space", "listen", "listen from here with clicks; again: stop", Order.LISTEN),
            Key(("t",), "t", "tap", "tap this stretch anew: any key on each count, Enter ends it", Order.TAP),
            Key(("H",), "H", "", "hear half as many counts from here, without taking them", Order.HEAR_HALF),
            Key(("D",), "D", "", "hear twice as many counts from here, without taking them", Order.HEAR_DOUBLE),
            Key(("T",), "T", "", "tap all of the music anew", Order.TAP_ALL),
        ),
    ),
    (
        "put right",
        (
            Key(("y",), "y", "agree", "what is doubtful here is right as it is", edits.call_right),
            Key(("1",), "1", "one", "this is one: a count 1", _correction("one")),
            Key(("e",), "e", "earlier", "this count 10 ms earlier", lambda s: edits.move(s, -edits.STEP)),
            Key(("l",), "l", "later", "this count 10 ms later", lambda s: edits.move(s, edits.STEP)),
            Key(("E",), "E", "", "50 ms earlier", lambda s: edits.move(s, -edits.BIG_STEP)),
            Key(("L",), "L", "", "50 ms later", lambda s: edits.move(s, edits.BIG_STEP)),
            Key(("a",), "a", "add", "add a count halfway to the next one", edits.add_count),
            Key(("x", "delete"), "x", "drop", "drop this count", _drop),
            Key(
                ("h",),
                "h",
                "half",
                "half as many counts: from the mark, or everywhere",
                lambda s: edits.count_at(s, 0.5),
            ),
            Key(("d",), "d", "double", "twice as many counts", lambda s: edits.count_at(s, 2.0)),
            Key(("w",), "w", "", "a waltz: three counts for each bar, or back", _thirds),
            Key(("p",), "p", "pause", "a pause from the mark, or from this count to the next one", edits.pause_here),
            Key(
                ("s",),
                "s",
                "",
                "counts in the gap behind this count, slower where the music slows",
                Order.COUNT_ON,
            ),
            Key(("c",), "c", "", "the music is cut here: a new count 1", _correction("cut")),
            Key((*"23456789",), "2–9", "", "this eight has so many counts", Order.LENGTH),
            Key(("f",), "f", "", "first movement: counting begins here", _first),
            Key(("F",), "F", "", "last movement", _last),
            Key(("m",), "m", "", "mark one end of a stretch", put_mark),
            Key(("escape",), "Escape", "", "no mark", clear_mark),
        ),
    ),
    (
        "lay on it",
        (
            Key(("plus",), "+", "lay", "lay a drill on this eight: its name, how many eights, a hand", Order.ASK),
            Key(("exclamation_mark",), "!", "", "a toss, a catch, an exchange on this count", Order.ASK),
            Key(("quotation_mark",), '"', "", "a remark on this eight", Order.ASK),
            Key(("g",), "g", "", "dance steps from the mark to here", _steps),
            Key(("minus",), "-", "", "take off what lies on this eight", _take_off),
            Key(("equals_sign",), "=", "", "the title", Order.ASK),
            Key(("k",), "k", "", "alone or in a group", Order.ASK),
        ),
    ),
    (
        "cut to length",
        (
            Key(
                ("M",),
                "M",
                "",
                "a map of the music: sections, how loud and dense, accents, what is beside them",
                Order.MAP,
            ),
            Key(("K",), "K", "", "cut: keep these eights, joined on their counts", Order.CUT),
            Key(("j",), "j", "", "hear the joint, four seconds on either side; again: the next one", Order.HEAR_JOINT),
            Key(("W",), "W", "", "write what was cut, and its routine", Order.CUT),
        ),
    ),
    (
        "go",
        (
            Key(("n", "tab"), "n", "doubt", "the next doubtful place", _go("doubt")),
            Key(("N", "shift+tab"), "N", "", "the doubtful place before", _go("doubt_before")),
            Key(("left",), "←", "", "a count back", _go("left")),
            Key(("right",), "→", "", "a count on", _go("right")),
            Key(("up",), "↑", "", "an eight back", _go("up")),
            Key(("down",), "↓", "", "an eight on", _go("down")),
            Key(("pageup",), "PgUp", "", "eight eights back", _page(-8)),
            Key(("pagedown",), "PgDn", "", "eight eights on", _page(8)),
            Key(("home",), "Home", "", "the first count of this eight", _go("home")),
            Key(("end",), "End", "", "the last count of this eight", _go("end")),
            Key(("ctrl+home",), "Ctrl+Home", "", "the first count of all", _go("start")),
            Key(("ctrl+end",), "Ctrl+End", "", "the last count of all", _go("finish")),
        ),
    ),
    (
        "keep",
        (
            Key(("u", "ctrl+z"), "u", "undo", "take back what was done last", take_back),
            Key(("r", "ctrl+y"), "r", "", "do it again", do_again),
            Key(("ctrl+s",), "Ctrl+S", "save", "save the routine", Order.SAVE),
            Key(("ctrl+q", "ctrl+c"), "Ctrl+Q", "leave", "leave", Order.LEAVE),
            Key(("f1", "question_mark"), "F1", "help", "all keys; ? too", Order.HELP),
        ),
    ),
)
_BY_NAME = {name: key for _, keys in GROUPS for key in keys for name in key.keys}
BINDINGS = [
    Binding(
        name,
        f"press('{name}')",
        key.short or key.help,
        show=bool(key.short) and name == key.keys[0],
        key_display=key.shown,
        priority=key.does is Order.LEAVE,
    )
    for _, keys in GROUPS
    for key in keys
    for name in key.keys
]
#: All keys, by what they are for.
KEYS_HELP = Help(
    "all keys",
    """
    Here you put counts right and lay movements on them. A count or a key of the foot can be clicked; the wheel goes
    from eight to eight.
    """,
    tuple(entry for name, keys in GROUPS for entry in ((name, ""), *((f"  {key.shown}", key.help) for key in keys))),
    """the fourth count of the music is a one: go there with →, press 1. Space lets you hear it with clicks, u takes it
    back. Then n, from one doubtful place to the next, and Ctrl+S.""",
)
#: What leaves, and what saves, which is told while something is typed: as a key's action has it.
LEAVES, SAVES = (("ctrl+q",), ("ctrl+c",)), ("ctrl+s",)

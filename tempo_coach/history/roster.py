"""People who practise here: one readable file a person in the folder ``people`` beside the history."""

from __future__ import annotations

import contextlib
import hashlib
import unicodedata
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError, CoachErrors
from tempo_coach.history.planner import LENGTHS
from tempo_coach.history.records import SOMEBODY, read_name
from tempo_coach.history.season import CUED, Goal
from tempo_coach.pattern.drill.drill import TEMPO_RANGE_BPM
from tempo_coach.pattern.drill.toml_tables import TomlTable, read_table, read_table_text
from tempo_coach.resources import written_whole

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from tempo_coach.history.takes import History

#: Letters of a name that its file begins with, so that whoever looks into the folder finds it.
_BEGINNING = 24
HANDS = ("", "right", "left")
#: How a file of somebody's session ends, which lies beside her own.
SESSION = ".session.json"
#: Delays of a set-up that can be said, in milliseconds.
DELAYS_MS = (-200.0, 1000.0)


@dataclass(frozen=True)
class Person:
    """Somebody who practises.

    Parameters
    ----------
    name : str
        As in the history.
    hand : {"", "right", "left"}
        That leads; empty where nobody has said.
    mirrored : bool
        Whether drills are done the other way round.
    apparatus : tuple of str
    level : str
        Or age class, in the coach's words.
    keys, voice, device : str
        For the hands, who counts, what she hears it through.
    delay_ms : float or None
        By which her taps come late through all that; None where it is what was measured for the device.
    minutes : int
        Of a session; 0 until it has been asked.
    drills : tuple of str
        That she practises; empty for those that she has practised lately.
    goals : tuple of Goal
    tempi : dict of str to float
        The tempo of each drill that was used last.
    chosen : dict of str to str
        The lines of the set-up as they were last.
    used : str
        When she practised last here, ISO 8601; empty before.
    earlier : tuple of str
        Names that she had here before hers was put right.
    """

    name: str
    hand: str = ""
    mirrored: bool = False
    apparatus: tuple[str, ...] = ()
    level: str = ""
    keys: str = ""
    voice: str = ""
    device: str = ""
    delay_ms: float | None = None
    minutes: int = 0
    drills: tuple[str, ...] = ()
    goals: tuple[Goal, ...] = ()
    tempi: Mapping[str, float] = field(default_factory=dict)
    chosen: Mapping[str, str] = field(default_factory=dict)
    used: str = ""
    earlier: tuple[str, ...] = ()

    @property
    def mirrors(self) -> bool:
        """Whether she mirrors drills: because she said so, or since her left hand leads."""
        return self.mirrored or self.hand == "left"

    def with_goal(self, goal: Goal) -> Person:
        """Return her with a goal, replacing one of the same drill and day."""
        others = [each for each in self.goals if (each.drill, each.on) != (goal.drill, goal.on)]
        return replace(self, goals=tuple(sorted([*others, goal], key=lambda each: (each.on, each.drill))))


def people_folder(history: Path) -> Path:
    """Return the folder of the people in a history; it may not exist yet."""
    return history.parent / "people"


def file_of(folder: Path, name: str) -> Path:
    """Return the file of somebody: letters of her name that every system takes, and a distinguishing suffix.

    Examples
    --------
    >>> from pathlib import Path
    >>> file_of(Path("people"), "Zoë O'Hara").name
    'zoe_o_hara_137ace.toml'
    """
    plain = read_name(name)
    letters = unicodedata.normalize("NFKD", plain).encode("ascii", "ignore").decode().lower()
    words = "_".join("".join(each if each.isalnum() else " " for each in letters).split())[:_BEGINNING]
    mark = hashlib.sha256(plain.encode()).hexdigest()[:6]
    return folder / f"{f'{words}_' if words else ''}{mark}.toml"


def list_people(folder: Path) -> tuple[tuple[Person, ...], tuple[CoachError, ...]]:
    """Return everybody with a file, most recent practice first, and the problems of unreadable files."""
    found: list[Person] = []
    problems: list[CoachError] = []
    for path in sorted(folder.glob("*.toml")):
        try:
            found.append(read_person(path))
        except CoachErrors as error:
            problems += error.problems
        except CoachError as error:
            problems.append(error)
    return tuple(sorted(found, key=lambda each: (each.used, each.name), reverse=True)), tuple(problems)


def find_person(folder: Path, name: str) -> Person:
    """Return somebody as her file has her, or a person of whom nothing is known yet.

    Raises
    ------
    CoachError
        If her file cannot be read.
    """
    path = file_of(folder, name)
    return read_person(path) if path.exists() else Person(read_name(name))


def complete_name(typed: str, names: Sequence[str]) -> str:
    """Return the name that begins with the given letters, case-insensitive.

    Parameters
    ----------
    typed : str
    names : sequence of str
        Those there are.

    Returns
    -------
    str
        What was typed, where no name begins so, as a new one.

    Raises
    ------
    CoachError
        If several begin so.

    Examples
    --------
    >>> complete_name("be", ["Ada", "Bea"]), complete_name("Mia", ["Ada", "Bea"])
    ('Bea', 'Mia')
    """
    plain = read_name(typed)
    if plain in names:
        return plain
    begin = [name for name in names if name.casefold().startswith(plain.casefold())]
    same = [name for name in begin if name.casefold() == plain.casefold()]
    if len(begin) > 1 and len(same) != 1:
        raise CoachError("person.several", where="athlete", beginning=plain, names=sorted(begin)[:6])
    return (same or begin or [plain])[0]


def read_person(path: Path) -> Person:
    """Return the person in a file.

    Raises
    ------
    CoachErrors
        With every problem of the file, each with its line.
    CoachError
        If there is no such file, or it is not TOML.
    """
    return read_person_from(read_table(path, what="person"))


def parse_person(text: str, *, where: str) -> Person:
    """Return the person in the text of a file; see :func:`read_person`."""
    return read_person_from(read_table_text(text, where=where, what="person"))


def with_what_is_new(known: Person, other: Person) -> Person:
    """Return somebody with what another file of hers says: all of it where nothing is known, else further goals."""
    if known == Person(known.name):
        return other
    mine = {(goal.drill, goal.on) for goal in known.goals}
    for goal in other.goals:
        known = known if (goal.drill, goal.on) in mine else known.with_goal(goal)
    return known


def read_person_from(table: TomlTable) -> Person:
    """Return the person that a table describes; see :func:`read_person`."""
    name = table.text("name", None)
    try:
        name = read_name(name) if name else name
    except CoachError as error:
        table.note("name", error)
    minutes = table.whole("minutes", 0, low=0, high=max(LENGTHS))
    if minutes not in (0, *LENGTHS):
        table.problem("minutes", "person.minutes", lengths=LENGTHS, minutes=minutes)
    keys = table.text("keys")
    if not are_keys(keys):
        table.problem("keys", "person.keys", keys=keys)
    person = Person(
        name=name,
        hand=table.choice("hand", HANDS, ""),
        mirrored=table.flag("mirrored"),
        apparatus=_texts(table, "apparatus"),
        level=table.text("level"),
        keys=keys,
        voice=table.text("voice"),
        device=table.text("device"),
        delay_ms=table.number("delay_ms", None, low=DELAYS_MS[0], high=DELAYS_MS[1]) if table.has("delay_ms") else None,
        minutes=minutes,
        drills=_texts(table, "drills"),
        used=table.text("used"),
        earlier=_texts(table, "earlier"),
        tempi=_numbers(table.table("tempo")),
        chosen=_all_texts(table.table("chosen")),
        goals=tuple(goal for each in table.tables("goal") if (goal := _read_goal(each)) is not None),
    )
    table.no_more()
    table.problems.raise_if_any()
    return person


def are_keys(keys: str) -> bool:
    """Return whether a text holds keys for hands: each another one, none of them a space."""
    return len(set(keys)) == len(keys) and all(key.isprintable() and not key.isspace() for key in keys)


def with_keys(known: str, used: str) -> str:
    """Return keys for hands: those used last, and of further hands those from before.

    Examples
    --------
    >>> with_keys("jf", "k"), with_keys("jf", "f"), with_keys("jf", "")
    ('kf', 'f', 'jf')
    """
    return used + "".join(key for key in known[len(used) :] if key not in used)


def _texts(table: TomlTable, name: str) -> tuple[str, ...]:
    value = table.data.get(name, []) if table.has(name) else []
    if isinstance(value, list) and all(isinstance(each, str) for each in value):
        return tuple(value)
    table.problem(name, "person.no_list")
    return ()


def _numbers(table: TomlTable) -> dict[str, float]:
    low, high = TEMPO_RANGE_BPM
    return {name: table.number(name, low, low=low, high=high) for name in table.data}


def _all_texts(table: TomlTable) -> dict[str, str]:
    return {name: table.text(name) for name in table.data}


def _read_goal(table: TomlTable) -> Goal | None:
    low, high = TEMPO_RANGE_BPM
    drill, tempo = table.text("drill", None), table.number("tempo", None, low=low, high=high)
    cues = table.choice("cues", tuple(CUED), "none")
    what, on = table.text("what"), table.data.get("on") if table.has("on") else None
    if isinstance(on, str):
        with contextlib.suppress(ValueError):
            on = date.fromisoformat(on)
    table.no_more()
    if not isinstance(on, date) or isinstance(on, datetime):
        table.problem("on", "person.day")
        return None
    return Goal(drill, on, tempo, cues, what) if drill and tempo == tempo else None


def format_person(person: Person) -> str:
    """Return the text of somebody's file; what was never said is left out."""
    import tomlkit

    document = tomlkit.document()
    for key in (
        "name",
        "hand",
        "mirrored",
        "apparatus",
        "level",
        "keys",
        "voice",
        "device",
        "delay_ms",
        "minutes",
        "drills",
        "used",
        "earlier",
    ):
        value = getattr(person, key)
        if value or (value == 0.0 and key == "delay_ms"):
            document[key] = list(value) if isinstance(value, tuple) else value
    for key, values in (("tempo", person.tempi), ("chosen", person.chosen)):
        if values:
            document[key] = dict(values)
    if person.goals:
        goals = tomlkit.aot()
        for goal in person.goals:
            table = tomlkit.table()
            table.update({"drill": goal.drill, "on": goal.on, "tempo": goal.tempo_bpm, "cues": goal.cues})
            if goal.what:
                table["what"] = goal.what
            goals.append(table)
        document["goal"] = goals
    return tomlkit.dumps(document)


def rename_person(folder: Path, name: str, to: str, history: History | None = None) -> str:
    """Give somebody another name, in her files and in the history where there is one, and return it.

    Raises
    ------
    CoachError
        If the other name is no name or somebody has it, or something cannot be written.
    """
    to = read_name(to)
    if to == name:
        return to
    known = () if history is None else history.ask("SELECT 1 FROM athlete WHERE name = ?", (to,))
    if known or file_of(folder, to).exists():
        raise CoachError("person.name_taken", where="name", athlete=to)
    with contextlib.nullcontext() if history is None else history.writing() as connection:
        if connection is not None:
            connection.execute("UPDATE athlete SET name = ? WHERE name = ?", (to, name))
        old, new = file_of(folder, name), file_of(folder, to)
        person = find_person(folder, name)
        earlier = tuple(each for each in dict.fromkeys((*person.earlier, name)) if each not in (to, SOMEBODY))
        save_person(folder, replace(person, name=to, earlier=earlier))
        old.unlink(missing_ok=True)
        with contextlib.suppress(FileNotFoundError):
            old.with_suffix(SESSION).replace(new.with_suffix(SESSION))
    return to


def save_person(folder: Path, person: Person) -> Path:
    """Write somebody's file, unreadable for others on the machine, and return its path.

    Raises
    ------
    CoachError
        If it cannot be written.
    """
    path = file_of(folder, person.name)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise CoachError("folder.not_made", where=str(folder), reason=error.strerror) from error
    text = format_person(person)
    with written_whole(path, what="person") as temporary:
        temporary.touch(mode=0o600)
        temporary.write_text(text, encoding="utf-8")
    with contextlib.suppress(OSError):
        path.chmod(0o600)
    return path

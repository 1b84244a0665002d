"""Everything that is known of somebody, as a form to look at and to change."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from tempo_coach.coach.practising.form import Form
from tempo_coach.coach.practising.form_line import DEFAULT, Line
from tempo_coach.coach.todays_practice import DEFAULT_MINUTES
from tempo_coach.errors import CoachError
from tempo_coach.history.planner import LENGTHS
from tempo_coach.history.roster import DELAYS_MS, HANDS, Person, are_keys, file_of, find_person, people_folder
from tempo_coach.languages import tr
from tempo_coach.pattern.drill.drill import TEMPO_RANGE_BPM
from tempo_coach.pattern.drill.drill_file import APPARATUS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

__all__ = [
    "Person",
    "PersonForm",
    "change_person",
    "list_voices",
    "make_person_form",
    "open_person",
    "path_of",
    "person_from_form",
    "titles_of",
]

NO, YES = "no", "yes"
#: Begins the key of a line with the tempo of one drill.
TEMPO = "tempo of "


@dataclass(frozen=True)
class PersonForm(Form):
    """The form of one person; of the tempi that she used last, that of one drill is shown."""

    @property
    def idle(self) -> frozenset[str]:
        """Keys of the tempi of all other drills."""
        shown = f"{TEMPO}{self.value('drill')}"
        return frozenset(line.key for line in self.lines if line.key.startswith(TEMPO) and line.key != shown)


def make_person_form(
    person: Person, titles: Mapping[str, str], *, voices: Sequence[str] = (), devices: Sequence[str] = ()
) -> PersonForm:
    """Return the form of somebody.

    Parameters
    ----------
    person : Person
    titles : mapping of str to str
        What drills are called, by their names; at least one.
    voices : sequence of str
        Languages that came with words.
    devices : sequence of str
        What can be heard through.
    """
    slowest, fastest = TEMPO_RANGE_BPM
    newest = person.chosen.get("drill", "")
    drills = tuple(titles)
    shown = newest if newest in drills else drills[0]
    apparatus = tuple(tr(each) for each in APPARATUS if each != "none")
    lengths, spoken = (DEFAULT, *map(str, LENGTHS)), tuple(dict.fromkeys((DEFAULT, *voices, person.voice)))
    minutes = str(person.minutes) if person.minutes else DEFAULT
    return PersonForm(
        (
            Line("name", "name", person.name, kind="text"),
            Line("hand", "leading hand", person.hand, HANDS, default="right"),
            Line("mirrored", "mirrored", YES if person.mirrored else NO, (NO, YES)),
            Line(
                "apparatus",
                "apparatus",
                ", ".join(tr(each) for each in person.apparatus),
                tuple(dict.fromkeys((DEFAULT, ", ".join(tr(each) for each in person.apparatus), *apparatus))),
                kind="text",
                default="not said",
            ),
            Line("level", "level", person.level, kind="text", default="not said; or an age class"),
            Line("minutes", "a session", minutes, lengths, default=str(DEFAULT_MINUTES), unit="minutes"),
            Line("keys", "keys", person.keys, kind="text", default="asked before the first take"),
            Line("voice", "voice", person.voice, spoken, default="as the language"),
            Line(
                "device",
                "sound",
                person.device,
                tuple(dict.fromkeys((DEFAULT, *devices, person.device))),
                kind="text",
                default="the system's own",
            ),
            Line(
                "delay_ms",
                "taps late by",
                DEFAULT if person.delay_ms is None else f"{person.delay_ms:g}",
                kind="number",
                low=DELAYS_MS[0],
                high=DELAYS_MS[1],
                default="as calibrate measured it",
                unit="ms",
            ),
            Line("drill", "drill", shown, drills, labels=titles),
            *(
                Line(
                    f"{TEMPO}{drill}",
                    "last tempo",
                    f"{person.tempi[drill]:g}" if drill in person.tempi else DEFAULT,
                    kind="number",
                    step=4,
                    low=slowest,
                    high=fastest,
                    begin=100,
                    default="none yet",
                    unit="a minute",
                )
                for drill in drills
            ),
        )
    )


def person_from_form(form: Form, person: Person) -> Person:
    """Return somebody as the form has her; what stands in no line stays.

    Raises
    ------
    CoachError
        If a line cannot be.
    """
    keys = "".join(form.value("keys").replace(",", " ").split())
    if not are_keys(keys):
        raise CoachError("person.keys", where=tr("keys"), keys=keys)
    numbers = {line.key: line.number for line in form.lines if line.kind == "number"}
    tempi = {name.removeprefix(TEMPO): each for name, each in numbers.items() if name.startswith(TEMPO) and each}
    changed = replace(
        person,
        name=form.value("name"),
        hand=form.value("hand"),
        mirrored=form.value("mirrored") == YES,
        apparatus=_read_apparatus(form.value("apparatus"), person.apparatus),
        level=form.value("level").strip(),
        minutes=int(form.value("minutes") or 0),
        keys=keys,
        voice=form.value("voice"),
        device=form.value("device").strip(),
        delay_ms=numbers["delay_ms"],
        tempi={**{drill: bpm for drill, bpm in person.tempi.items() if f"{TEMPO}{drill}" not in numbers}, **tempi},
    )
    return replace(changed, chosen=_follow(person, changed))


def _follow(before: Person, now: Person) -> dict[str, str]:
    """Return the lines of the set-up where what they said is said otherwise now."""
    chosen = dict(before.chosen)
    if before.mirrors != now.mirrors:
        chosen.pop("hands", None)
    if before.device != now.device:
        chosen["device"] = now.device
    drill = chosen.get("drill", "")
    if before.tempi.get(drill) != now.tempi.get(drill):
        chosen["tempo"] = f"{now.tempi[drill]:g}" if drill in now.tempi else DEFAULT
    return {key: value for key, value in chosen.items() if value}


def _read_apparatus(text: str, before: Sequence[str]) -> tuple[str, ...]:
    known = {word.casefold(): each for each in before for word in (each, tr(each))}
    known |= {word.casefold(): each for each in APPARATUS for word in (each, tr(each)) if each != "none"}
    words = [word.strip() for word in text.split(",") if word.strip()]
    for word in words:
        if word.casefold() not in known:
            names = ", ".join(tr(each) for each in APPARATUS if each != "none")
            raise CoachError("person.apparatus", where=tr("apparatus"), known=names, found=word)
    return tuple(dict.fromkeys(known[word.casefold()] for word in words))


def list_voices() -> tuple[str, ...]:
    """Return the languages that came with words."""
    from tempo_coach.resources import find_shared

    return tuple(sorted(each.name for each in (find_shared("sounds") / "voice").iterdir() if each.is_dir()))


def titles_of(person: Person, drill: str = "") -> dict[str, str]:
    """Return the titles of somebody's drills by their names: those with a tempo, those she chose, and one more."""
    from tempo_coach.coach.drills import load_drill
    from tempo_coach.coach.practising.form import FIRST_DRILL

    titles = {}
    for name in dict.fromkeys((drill, *person.tempi, *person.drills, person.chosen.get("drill", ""), FIRST_DRILL)):
        try:
            titles[name] = tr(load_drill(name).title)
        except CoachError:  # one that is gone keeps its tempo in her file
            continue
    return titles


def path_of(file: Path, name: str) -> Path:
    """Return the path of somebody's own file beside a history."""
    return file_of(people_folder(file), name)


def open_person(file: Path, name: str) -> Person:
    """Return somebody as her file beside a history has her, or a person of whom nothing is known yet.

    Raises
    ------
    CoachError
        If her file cannot be read.
    """
    return find_person(people_folder(file), name)


def change_person(file: Path, name: str, changed: Person) -> Person:
    """Keep somebody as she is now, under another name where she has one, and return her.

    Parameters
    ----------
    file : Path
        The history; it may not be there.
    name : str
        Hers until now.

    Raises
    ------
    CoachError
        If the name is none or somebody's, or something cannot be written.
    """
    from tempo_coach.history.records import read_name
    from tempo_coach.history.roster import rename_person, save_person
    from tempo_coach.history.takes import History

    folder = people_folder(file)
    changed = replace(changed, name=read_name(changed.name))
    if changed.name != name:
        if file.exists():
            with History(file) as history:
                rename_person(folder, name, changed.name, history)
        else:
            rename_person(folder, name, changed.name)
        changed = replace(changed, earlier=find_person(folder, changed.name).earlier)
    save_person(folder, changed)
    return changed

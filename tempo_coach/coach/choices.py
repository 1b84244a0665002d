"""Choices of the set-up, kept for each person, and files to offer: those used before, and the newest."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.observe.members import FILMS, SOUND_FILES

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from tempo_coach.coach.practising.form import Form

#: Kinds of files that hold music, as their names end.
KINDS = (".wav", ".flac", ".mp3", ".ogg", ".opus", ".m4a", ".aiff")
#: How routines end, the folder beside the history in which they can lie for everybody, and how much is read of one.
ROUTINE, LIBRARY, MOST_OF_HEAD = ".toml", "routines", 4096
#: How plans end, and what a member of a group may be given by.
PLANS = (".json",)
MEMBERS = (*sorted(FILMS | SOUND_FILES), ".csv", ".tsv", ".jsonl")
#: How films end, and tables that a sensor's program writes.
FILM_KINDS, TABLES = tuple(sorted(FILMS)), (".csv", ".tsv", ".txt")
#: Folders of a person's home in which such files usually lie, and those that hold pictures besides.
FOLDERS = ("Music", "Downloads", "Desktop", "Documents")
PICTURES = ("Videos", "Movies", "Pictures")
#: Files that are offered at most, and entries of a folder that are looked at.
MOST_FILES, MOST_LOOKED_AT = 12, 5_000
#: Folders that are looked into for the files of a group, at most.
MOST_FOLDERS = 40


@dataclass(frozen=True)
class Recalled:
    """What somebody chose last.

    Parameters
    ----------
    lines : mapping of str to str
        Values of the set-up, by the keys of its lines.
    tempi : mapping of str to float
        The tempo that she used last in each drill, in beats a minute.
    """

    lines: Mapping[str, str] = field(default_factory=dict)
    tempi: Mapping[str, float] = field(default_factory=dict)

    def put_tempo(self, form: Form, drill: str | None) -> tuple[Form, Recalled]:
        """Return the set-up with the tempo that she used last in a drill, and what is recalled with that.

        A tempo that was typed stays; on music, or without a drill, there is none.
        """
        line, recalled = form.line("tempo"), self.lines.get("tempo", "")
        if line.value not in ("", recalled):
            return form, self
        bpm = self.tempi.get(drill) if drill and not form.value("music").strip() else None
        tempo = "" if bpm is None else f"{bpm:g}"
        return form.put(replace(line, value=tempo)), replace(self, lines={**self.lines, "tempo": tempo})

    def taken_out_of(self, form: Form) -> Form:
        """Return the set-up with defaults where what is recalled still stands; the drill stays."""
        from tempo_coach.coach.practising.form import make_form

        defaults = make_form(form.line("drill").choices)
        for line in form.lines:
            if line.key != "drill" and self.lines.get(line.key) == line.value:
                form = form.put(replace(line, value=defaults.value(line.key)))
        return form


def recall(history: Path, name: str) -> Recalled:
    """Return what somebody chose last, and whether she mirrors drills; nothing where her file cannot be read."""
    from tempo_coach.coach.practising.form import MIRRORED
    from tempo_coach.history.roster import find_person, people_folder

    try:
        person = find_person(people_folder(history), name)
    except CoachError:
        return Recalled()
    return Recalled({**({"hands": MIRRORED} if person.mirrors else {}), **person.chosen}, person.tempi)


def remember_choice(history: Path, name: str, chosen: Mapping[str, str], *, keys: str = "", drill: str = "") -> None:
    """Keep somebody's choices in her file.

    Parameters
    ----------
    history : Path
    name : str
    chosen : mapping of str to str
        Lines of the set-up, by their keys; those that kept their default are left out.
    keys : str
        Of the hands, where somebody tapped.
    drill : str
        That was practised.

    Raises
    ------
    CoachError
        If her file cannot be read or written.
    """
    from tempo_coach.coach.practising.form import AS_TAUGHT, MIRRORED
    from tempo_coach.history.roster import find_person, people_folder, save_person, with_keys

    folder = people_folder(history)
    person = find_person(folder, name)
    kept = {key: value for key, value in chosen.items() if value}
    if kept.get("hands") == (MIRRORED if person.mirrors else AS_TAUGHT):
        del kept["hands"]  # as her file has it anyway, and as it will have it
    tempo = kept.get("tempo", "")
    tempi = dict(person.tempi)
    if drill and tempo.replace(".", "", 1).isdigit():
        tempi[drill] = float(tempo)
    elif not kept.get("music"):  # the drill's own
        tempi.pop(drill, None)
    used = datetime.now().isoformat(timespec="minutes")
    device = kept.get("device", "")
    person = replace(person, chosen=kept, keys=with_keys(person.keys, keys), tempi=tempi, used=used, device=device)
    save_person(folder, person)


def offer_music(history: Path, *, here: Path | None = None) -> tuple[str, ...]:
    """Return music and routines to offer: what was practised with last, then the newest in common folders.

    Parameters
    ----------
    history : Path
    here : Path or None
        The folder that is looked into first; by default the one that the program was started in.
    """
    from tempo_coach.history.roster import list_people, people_folder

    people, _ = list_people(people_folder(history))
    used = [person.chosen["music"] for person in people if person.chosen.get("music")]
    folders = [here or Path.cwd(), history.parent / LIBRARY, *(Path.home() / name for name in FOLDERS)]
    newest = sorted(_look(folders, (*KINDS, ROUTINE)), reverse=True)
    found = [each for each in used if Path(each).is_file()]
    found += [path for _, path in newest if not path.endswith(ROUTINE) or _is_routine(path)]
    return tuple(dict.fromkeys(found))[:MOST_FILES]


def _is_routine(path: str) -> bool:
    """Return whether a TOML file begins like a routine rather than a drill."""
    try:
        with Path(path).open("rb") as file:
            return re.search(rb"^\[music\]", file.read(MOST_OF_HEAD), re.MULTILINE) is not None
    except OSError:
        return False


def offer_plans(*, here: Path | None = None) -> tuple[str, ...]:
    """Return files that may be plans: the newest in the working folder, or another one."""
    return tuple(path for _, path in sorted(_look([here or Path.cwd()], PLANS), reverse=True))[:MOST_FILES]


def offer_films(*, here: Path | None = None) -> tuple[str, ...]:
    """Return films to offer: the newest in common folders."""
    return _newest(FILM_KINDS, here, (*PICTURES, *FOLDERS))


def offer_tables(*, here: Path | None = None) -> tuple[str, ...]:
    """Return tables to offer: the newest in common folders."""
    return _newest(TABLES, here, FOLDERS)


def _newest(kinds: tuple[str, ...], here: Path | None, names: Iterable[str]) -> tuple[str, ...]:
    found = sorted(_look([here or Path.cwd(), *(Path.home() / name for name in names)], kinds), reverse=True)
    return tuple(dict.fromkeys(path for _, path in found))[:MOST_FILES]


def offer_members(history: Path, *, here: Path | None = None) -> tuple[str, ...]:
    """Return sources to offer as members of a group: newest takes, folders of several files, newest files.

    Parameters
    ----------
    history : Path
    here : Path or None
        As in :func:`offer_music`.
    """
    from tempo_coach.coach.recording_members import LAST
    from tempo_coach.history.takes import History

    try:
        with History(history, read_only=True) as kept:
            athletes = [f"{athlete.name}:{LAST}" for athlete in kept.athletes() if athlete.takes]
    except CoachError:
        athletes = []  # the history says what is wrong with it where it is opened
    here = here or Path.cwd()
    folders = [str(folder) for folder in _list_folders(here) if len(list(_look([folder], MEMBERS))) > 1]
    newest = sorted(_look([here, *(Path.home() / name for name in FOLDERS)], MEMBERS), reverse=True)
    return (*athletes[:MOST_FILES], *folders[:MOST_FILES], *[path for _, path in newest][:MOST_FILES])


def _list_folders(here: Path) -> list[Path]:
    try:
        return sorted(each for each in here.iterdir() if each.is_dir() and not each.name.startswith("."))[:MOST_FOLDERS]
    except OSError:
        return []


def _look(folders: Iterable[Path], kinds: tuple[str, ...] = KINDS) -> Iterable[tuple[float, str]]:
    """Yield modification time and path of each file of some kinds; unreadable folders have none."""
    for folder in folders:
        try:
            with os.scandir(folder) as entries:
                for _, entry in zip(range(MOST_LOOKED_AT), entries, strict=False):
                    if entry.name.lower().endswith(kinds) and entry.is_file():
                        yield entry.stat().st_mtime, entry.path
        except OSError:
            continue

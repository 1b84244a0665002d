"""Today's practice of one person: planned from her takes, kept while it is done, gone on with where it broke off.

::

    today = open_today(history_file(), "Ada", day=date.today(), minutes=20)
    today = settle(today, 0, DONE)
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.history.planner import LENGTHS, SessionPart
from tempo_coach.history.session_record import DONE, SKIPPED

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.coach.planning import Request
    from tempo_coach.coach.practising.practice import PracticeContext
    from tempo_coach.history.columns import BriefRow
    from tempo_coach.history.roster import Person
    from tempo_coach.history.season import Season
    from tempo_coach.history.session_record import SessionRecord
    from tempo_coach.history.standing import Known
    from tempo_coach.pattern.drill.drill import Drill

__all__ = [
    "DEFAULT_MINUTES",
    "DONE",
    "LENGTHS",
    "MOST_PEOPLE",
    "SKIPPED",
    "SessionPart",
    "TodaysPractice",
    "change_drill",
    "change_tempo",
    "check_group",
    "find_drills_of",
    "keys_of",
    "know",
    "open_group",
    "open_today",
    "prepare_item",
    "remember",
    "request_of",
    "rows_of",
    "settle",
    "write_today",
]
#: Minutes of a session where she has not been asked yet.
DEFAULT_MINUTES = 20
#: Drills from which on a session can be mixed, and how many it has of its own choice where she has done fewer.
LEAST_DRILLS, FIRST_DRILLS = 2, 3
#: People of a group whose sessions go on one list.
MOST_PEOPLE = 12


@dataclass(frozen=True, eq=False)
class TodaysPractice:
    """Today's practice of one person.

    Parameters
    ----------
    file : Path
        The history.
    person : Person
    day : date
    record : SessionRecord
    drills : dict of str to Drill
        Those that she practises, by their names.
    paths : dict of str to str
        What names them: their names, or the files of her own.
    season : Season
    asks : bool
        Whether she has not been asked yet how long a session is.
    """

    file: Path
    person: Person
    day: date
    record: SessionRecord
    drills: Mapping[str, Drill]
    paths: Mapping[str, str]
    season: Season
    asks: bool = False

    @property
    def known(self) -> dict[str, Known]:
        """The planner's knowledge of the drills."""
        return {name: know(drill) for name, drill in self.drills.items()}


def know(drill: Drill) -> Known:
    """Return the planner's knowledge of a drill."""
    from tempo_coach.history.standing import Known

    practice = drill.practice
    return Known(
        drill.name,
        practice.tempo_bpm,
        *practice.tempi_bpm,
        counts=drill.pattern.cycle_counts,
        cycles=practice.cycles,
        lead_in=practice.lead_in_counts,
    )


def open_today(
    file: Path, name: str, *, day: date, minutes: int | None = None, anew: bool = False, keep: bool = True
) -> TodaysPractice:
    """Return today's practice of somebody: the one begun today, or a new one.

    Parameters
    ----------
    file : Path
        The history; it may not be there yet.
    name : str
    day : date
    minutes : int or None
        How long; by default as last time. Another length than it has plans the session anew.
    anew : bool
        Whether it is planned anew in any case.
    keep : bool
        Whether it is written down, so that it goes on where it breaks off.

    Raises
    ------
    CoachError
        If something cannot be read, or no session is so long.
    """
    from tempo_coach.history.planner import plan_today
    from tempo_coach.history.roster import find_person, people_folder
    from tempo_coach.history.season import season_of
    from tempo_coach.history.session_record import SessionRecord, read_session, session_file

    if minutes is not None and minutes not in LENGTHS:
        raise CoachError("today.minutes", where="--minutes", known=LENGTHS, minutes=minutes)
    folder = people_folder(file)
    person = find_person(folder, name)
    rows = rows_of(file, person.name, until=day)
    drills, paths = find_drills_of(person, rows, day=day)
    season = season_of(rows)
    before = read_session(session_file(folder, person.name))
    minutes_ = minutes or person.minutes or DEFAULT_MINUTES
    if before is not None and before.day == day.isoformat() and not anew and minutes in (None, before.minutes):
        missing = {item.drill for item in before.items} - set(drills)
        if not missing:
            return TodaysPractice(file, person, day, before, drills, paths, season)
    known = {drill: know(each) for drill, each in drills.items()}
    items = plan_today(season, known, today=day, minutes=minutes_, goals=person.goals)
    record = SessionRecord(day.isoformat(), minutes_, items, ("",) * len(items))
    asks = not (minutes or person.minutes)
    today = TodaysPractice(file, replace(person, minutes=minutes_), day, record, drills, paths, season, asks)
    if keep:
        write_today(today, person_too=person.minutes != minutes_)
    return today


def rows_of(file: Path, name: str, *, until: date | None = None) -> tuple[BriefRow, ...]:
    """Return somebody's takes that count, none without her or a history."""
    from tempo_coach.history.records import Wanted
    from tempo_coach.history.takes import History

    if not file.exists():
        return ()
    with History(file, read_only=True) as history:
        if not history.ask("SELECT 1 FROM athlete WHERE name = ?", (name,)):
            return ()
        return history.find_briefly(Wanted(athlete=name, until=until.isoformat() if until else None, counting=True))


def find_drills_of(person: Person, rows: Sequence[BriefRow], *, day: date) -> tuple[dict[str, Drill], dict[str, str]]:
    """Return somebody's drills and their names: those she chose or did lately, and goals.

    Whoever chose none and has done one at most gets the easiest others of her apparatus beside it, none that throws.

    Raises
    ------
    CoachError
        If one of the drills cannot be read.
    """
    from tempo_coach.coach.drills import load_drill
    from tempo_coach.history.data_folder import data_folder
    from tempo_coach.history.planner import DROPPED
    from tempo_coach.pattern.drill.drill_file import list_drills

    files = {path.stem: path.stem for path in list_drills()}
    files |= {path.stem: str(path) for path in list_drills(data_folder() / "drills")}
    since = (day - timedelta(days=DROPPED)).isoformat()
    wanted = list(person.drills) or list(dict.fromkeys(row.drill for row in rows if row.day >= since))
    wanted += [goal.drill for goal in person.goals if goal.on >= day and goal.drill not in wanted]
    paths = {Path(each).stem: files.get(each, each) for each in wanted if each in files or Path(each).is_file()}
    drills = {name: load_drill(path) for name, path in paths.items()}
    if len(paths) < LEAST_DRILLS and not person.drills:
        hers = person.apparatus or tuple({drill.apparatus for drill in drills.values()}) or ("clubs",)
        others = {name: load_drill(path) for name, path in files.items() if name not in paths}
        fitting = [name for name, drill in others.items() if drill.apparatus in hers and not _throws(drill)]
        easiest = sorted(fitting, key=lambda name: len(others[name].pattern.hands[0].moments))
        for name in easiest[: FIRST_DRILLS - len(paths)]:
            paths[name], drills[name] = files[name], others[name]
    return drills, paths


def _throws(drill: Drill) -> bool:
    return any(moment.kind == "release" for hand in drill.pattern.hands for moment in hand.moments)


def write_today(today: TodaysPractice, *, person_too: bool = False) -> None:
    """Write the session, and the person's file where that has changed.

    Raises
    ------
    CoachError
        If it cannot be written.
    """
    from tempo_coach.history.roster import people_folder, save_person
    from tempo_coach.history.session_record import save_session, session_file

    folder = people_folder(today.file)
    save_session(session_file(folder, today.person.name), today.record)
    if person_too:
        save_person(folder, today.person)


def settle(today: TodaysPractice, place: int, state: str) -> TodaysPractice:
    """Return today's practice with an item done or skipped, after writing it.

    What was done is what its drill goes on from in the blocks that are still to come.

    Raises
    ------
    CoachError
        If the history cannot be read, or the session not be written.
    """
    from tempo_coach.history.planner import go_on
    from tempo_coach.history.season import season_of

    settled = replace(today, record=today.record.with_state(place, state))
    if state == DONE:
        season = season_of(rows_of(today.file, today.person.name, until=today.day))
        items = go_on(season, today.known, settled.record.items, place, today=today.day)
        settled = replace(settled, season=season, record=replace(settled.record, items=items))
    write_today(settled)
    return settled


def change_tempo(today: TodaysPractice, place: int, by: float) -> TodaysPractice:
    """Return today's practice with an item faster or slower, within the limits of its drill.

    Later blocks in which the drill is the same go with it.
    """
    record = today.record
    item = record.items[place]
    low, high = today.drills[item.drill].practice.tempi_bpm
    tempo = min(max(item.tempo_bpm + by, min(low, item.tempo_bpm)), max(high, item.tempo_bpm))
    for k, each in enumerate(record.items):
        if k == place or (k > place and not record.states[k] and each.is_like(item)):
            record = record.with_item(k, replace(each, tempo_bpm=tempo))
    changed = replace(today, record=record)
    write_today(changed)
    return changed


def change_drill(today: TodaysPractice, place: int, by: int = 1) -> TodaysPractice:
    """Return today's practice with another of her drills at a place."""
    from tempo_coach.history.standing import find_standings

    item = today.record.items[place]
    names = list(today.drills)
    name = names[(names.index(item.drill) + by) % len(names)]
    (standing,) = find_standings(today.season, {name: know(today.drills[name])}, today=today.day)
    other = replace(item, drill=name, tempo_bpm=standing.tempo_bpm, cues=standing.cues)
    changed = replace(today, record=today.record.with_item(place, other))
    write_today(changed)
    return changed


def request_of(today: TodaysPractice, place: int) -> Request:
    """Return the request of an item."""
    from tempo_coach.coach.planning import Request
    from tempo_coach.coach.practising.form import SPOKEN

    item = today.record.items[place]
    return Request(
        today.paths[item.drill],
        tempo_bpm=item.tempo_bpm,
        cues=item.cues,  # type: ignore[arg-type]  # the ladder's ways are ways of cueing
        mirrored=today.person.mirrors,
        tolerance=item.tolerance,
        spoken=bool(today.person.voice) or today.person.chosen.get("counts") == SPOKEN,
    )


def open_group(
    file: Path, names: Sequence[str], *, day: date, minutes: int | None = None
) -> tuple[TodaysPractice, ...]:
    """Return the present practice of each member; nothing is written.

    Raises
    ------
    CoachError
        If there are too many, a name comes twice, or something cannot be read.
    """
    check_group(names)
    return tuple(open_today(file, name, day=day, minutes=minutes, keep=False) for name in names)


def check_group(names: Sequence[str]) -> None:
    """Refuse an empty group, one that is too large, or a name twice.

    Raises
    ------
    CoachError
        If it is one of these.
    """
    if not 1 <= len(names) <= MOST_PEOPLE:
        raise CoachError("today.people", where="--group", most=MOST_PEOPLE, found=len(names))
    double = [name for name in names if names.count(name) > 1]
    if double:
        raise CoachError("today.named_twice", where="--group", athlete=double[0])


def keys_of(today: TodaysPractice, drill: Drill) -> tuple[tuple[str, str], ...]:
    """Return the key of each hand of a drill: those used last, the default ones for the rest."""
    from tempo_coach.live.practice.hand_keys import default_keys

    hands = drill.pattern.hand_names
    return default_keys(hands, tuple(zip(hands, today.person.keys, strict=False)))


def prepare_item(today: TodaysPractice, place: int) -> PracticeContext:
    """Return everything needed to practise an item at once, with her choices of sound and observation.

    Raises
    ------
    CoachError
        If its drill cannot be read or does not fit.
    """
    from tempo_coach.coach.practising.start import prepare_practice
    from tempo_coach.history.planner import REST
    from tempo_coach.live.practice.session import Way
    from tempo_coach.observe.observers import SOUNDS
    from tempo_coach.report.words.observers import list_choices

    item = today.record.items[place]
    chosen = today.person.chosen
    observed_by = list_choices().get(chosen.get("observer", ""), "tap")
    keys = "".join(key for _, key in keys_of(today, today.drills[item.drill]))
    kind = observed_by if observed_by in SOUNDS else None
    ready = chosen.get("ready", "")
    return prepare_practice(
        request_of(today, place),
        way=Way(ready=float(ready) if ready.isdigit() else 0.0, takes=item.takes, rest=REST),
        observed_by=observed_by,
        keys=keys if observed_by in ("tap", "coach's tap") else "",
        at_once=True,
        device=today.person.device or None,
        voice=today.person.voice or None,
        athlete=today.person.name,
        microphone=None if kind is None else "",
        kind=kind,
    )


def remember(today: TodaysPractice, *, keys: str) -> TodaysPractice:
    """Return today's practice with the keys that she used and the time, after writing it.

    Raises
    ------
    CoachError
        If it cannot be written.
    """
    from datetime import datetime

    from tempo_coach.history.roster import people_folder, save_person, with_keys

    used = datetime.now().isoformat(timespec="minutes")
    done = [item for item, state in zip(today.record.items, today.record.states, strict=True) if state == DONE]
    tempi = {**today.person.tempi, **{item.drill: item.tempo_bpm for item in done if item.part is SessionPart.BLOCK}}
    person = replace(today.person, keys=with_keys(today.person.keys, keys), used=used, tempi=tempi)
    save_person(people_folder(today.file), person)
    return replace(today, person=person)

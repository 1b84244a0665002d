"""Members of a group from the history, a recording or a film: each a take on the group's plan."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from tempo_coach.errors import CoachError
from tempo_coach.observe.member_rows import MemberRows
from tempo_coach.observe.members import FILMS, SOUND_FILES
from tempo_coach.observe.observers import DEFAULT_SOUND

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from tempo_coach.observe.observers import ObservedBy
    from tempo_coach.observe.sound.sound_take import HeardTake
    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.reasons import Note, Warn
    from tempo_coach.share_done import Progress
    from tempo_coach.times import Floats

    Heard = tuple[HeardTake | CoachError, list[Note]]

#: Threads that listen at a time: each takes some hundred MB.
MOST_JOBS = 4
#: Seconds after the first clap within which nothing is anybody's own: its echo.
SAME_CLAP = 0.5
#: Seconds beside the first and the last moment that was recorded.
EDGE = 0.001
#: What stands for the newest take of an athlete.
LAST = "last"


@dataclass(frozen=True)
class RecordingOptions:
    """Options for reading recordings and films.

    Parameters
    ----------
    kind : str or None
        The kind of sound that is heard; None is the default one.
    film : bool
        Whether films are followed by their markers; else their sound is heard.
    first_clap : bool
        Whether the recordings hold no music, and one clap before all else sets their clocks.
    """

    kind: ObservedBy | None = None
    film: bool = False
    first_clap: bool = False

    @property
    def sound(self) -> ObservedBy:
        """Kind of sound to detect."""
        return self.kind or DEFAULT_SOUND

    @property
    def needs(self) -> dict[str, frozenset[str]]:
        """Required suffixes of file names for each option that was given."""
        told = {"--kind": self.kind is not None, "--film": self.film, "--first-clap": self.first_clap}
        return {option: FILMS if option == "--film" else FILMS | SOUND_FILES for option, given in told.items() if given}


class HeardRows(NamedTuple):
    """Onsets of a member without music, and their levels; None where nobody else was near."""

    rows: MemberRows
    loudness: Floats | None


def names_history(source: str) -> bool:
    """Return whether a group's source, ``NAME=TAKE`` or a take, means a take of the history."""
    said = source.partition("=")[2] or source
    athlete, _, which = said.rpartition(":")
    return not Path(said).exists() and (said.isdigit() or bool(athlete and which == LAST))


def find_in_history(said: str, file: Path) -> tuple[str, Take] | None:
    """Return the owner and the take of the history that is meant; None where a file is meant.

    Parameters
    ----------
    said : str
        A number, or ``ATHLETE:last``.
    file : Path
        The history.

    Raises
    ------
    CoachError
        If there is no such take.
    """
    if not names_history(said):
        return None
    athlete = said.rpartition(":")[0]
    from tempo_coach.history.records import Wanted
    from tempo_coach.history.takes import History

    with History(file, read_only=True) as history:
        if said.isdigit():
            kept = history.take(int(said))
            return kept.row.athlete, kept.take
        rows = history.find(Wanted(athlete=athlete, last=1))
        if not rows:
            raise CoachError("group.no_take_of_athlete", where="group", athlete=athlete)
        return athlete, history.take(rows[0].number).take


def hear_members(
    files: Mapping[str, str],
    plan: Plan,
    how: RecordingOptions,
    *,
    warn: Warn | None = None,
    progress: Progress | None = None,
) -> dict[str, HeardTake | CoachError]:
    """Return the take of each member's recording or film, aligned by the music in it, and its levels.

    Of whoever cannot be heard it is why.

    Parameters
    ----------
    files : mapping of member to path
    plan : Plan
    how : RecordingOptions
    warn : callable or None
    progress : callable or None
        Told which share of them has been heard.
    """
    import os
    from concurrent.futures import ThreadPoolExecutor

    # alone nobody else is near; of several each one's own sound is the loudest in her recorder
    nearest = len(files) > 1
    jobs = min(len(files), MOST_JOBS, os.cpu_count() or 1)
    # threads: most of it is Fourier transforms, and behind a screen no process can be started
    with ThreadPoolExecutor(jobs) as pool:
        hearing = pool.map(lambda path: _hear(path, plan, how, nearest=nearest), files.values())
        found = list(_counted(hearing, len(files), progress))
    told: set[Note] = set()
    for _, notes in found:
        if warn:
            for note in notes:
                if note not in told:
                    warn(note)
            told.update(notes)
    return {member: take for member, (take, _) in zip(files, found, strict=True)}


def _counted(hearing: Iterable[Heard], number: int, progress: Progress | None) -> Iterator[Heard]:
    """Yield items, and report the share that is done."""
    if progress:
        progress(0.0)
    for done, one in enumerate(hearing, 1):
        yield one
        if progress:
            progress(done / number)


def hear_by_first_clap(
    files: Mapping[str, str], how: RecordingOptions, *, warn: Warn | None = None, progress: Progress | None = None
) -> dict[str, HeardRows | CoachError]:
    """Return the onsets of recordings without music, in seconds after the first clap, which all recorded.

    Sound takes 3 ms for each metre to it, so that much less sure is where they are against each other. Of whoever
    cannot be heard it is why.

    Parameters
    ----------
    files : mapping of member to path
    how : RecordingOptions
    warn, progress : callable or None
    """
    import numpy as np

    from tempo_coach.music.files.sound_file import read_sound
    from tempo_coach.observe.sound.detector import find_in_residual
    from tempo_coach.observe.sound.kinds import make_detector
    from tempo_coach.observe.sound.residual import remove_played

    found: dict[str, HeardRows | CoachError] = {}
    for done, (member, path) in enumerate(files.items(), 1):
        detector = make_detector(how.sound, nearest=len(files) > 1)
        try:
            residual = remove_played(read_sound(path, warn=warn), None)
            claps = find_in_residual(residual, make_detector("clap")).time
            heard = find_in_residual(residual, detector)
            later = heard.time > claps[0] + SAME_CLAP if len(claps) else np.zeros(len(heard.time), dtype=bool)
            if not later.any():
                raise CoachError("recording.no_first_clap", where=path, kind=how.sound)
        except CoachError as error:
            found[member] = error
            continue
        times = heard.time[later] - claps[0] - detector.delay
        rows = MemberRows(
            tuple(times.tolist()), ("",) * len(times), (path,) * len(times), how.sound, 1000 * detector.spread
        )
        found[member] = HeardRows(rows, None if heard.loudness is None else heard.loudness[later])
        if progress:
            progress(done / len(files))
    return found


def _hear(path: str, plan: Plan, how: RecordingOptions, *, nearest: bool) -> Heard:
    """Return the onsets of one recording or film, and notes on it."""
    from tempo_coach.coach.placing import place_sound, read_film
    from tempo_coach.observe.sound.sound_take import HeardTake

    notes: list[Note] = []
    try:
        if how.film and Path(path).suffix.lower() in FILMS:
            placed = read_film(path, plan, warn=notes.append)
        else:
            placed = place_sound(path, plan, kind=how.sound, nearest=nearest, warn=notes.append)
    except CoachError as error:
        return error, []
    # what was not recorded was not missed; what is heard early of the first moment that was, belongs to that one
    heard, asked = placed.take.plan.moments.time, plan.moments.time
    before, behind = asked[asked < heard[0] - EDGE], asked[asked > heard[-1] + EDGE]
    outside = [(float(each[0]) - EDGE, float(each[-1]) + EDGE) for each in (before, behind) if each.size]
    unseen = (*placed.take.unmeasurable, *outside)
    return HeardTake(replace(placed.take, plan=plan, unmeasurable=unseen), placed.loudness), notes

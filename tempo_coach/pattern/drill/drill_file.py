"""Drills as TOML files, written by people and read with every problem reported at once.

A drill's file says what the movement is and how it is practised::

    title = "Clubs: forward mills"
    apparatus = "clubs"

    [cycle]
    counts = 2

    [[phase]]
    name = "circle"
    start = "1"  # counts as a coach says them, from 1
    end = "3"  # where the next phase begins
    circles = 1

    [[hand]]
    name = "right"  # the first hand is the reference

    [[hand]]
    name = "left"
    lag = 1  # counts behind the reference
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tempo_coach.errors import CoachError, nearest
from tempo_coach.pattern.drill.drill import (
    CUE_WAYS,
    CYCLES,
    LEAD_IN_COUNTS,
    LEAST_ALLOWANCE,
    TEMPO_RANGE_BPM,
    Drill,
    Practice,
)
from tempo_coach.pattern.drill.pattern import (
    SAME_PLACE,
    Carried,
    Hand,
    Moment,
    Pattern,
    Phase,
    place_carried,
    place_moments,
)
from tempo_coach.pattern.drill.toml_tables import TomlTable, read_table
from tempo_coach.resources import find_shared

if TYPE_CHECKING:
    from collections.abc import Iterator

#: Where a phone can be worn (in a band; never in tosses, in rolls or over the head).
WORN_AT = ("forearm", "upper arm", "ankle")
APPARATUS = ("rope", "hoop", "ball", "clubs", "ribbon", "none")
#: What she has to mind is read before a take, whole, on a screen of 80 columns and 24 rows beside all else.
LONGEST_CAUTION = 300


def list_drills(folder: Path | None = None) -> Iterator[Path]:
    """Yield the drill files that come with the program, or those of a folder, by name."""
    yield from sorted((folder or find_shared("drills")).glob("*.toml"))


def find_drill(name: str) -> Path:
    """Return the file of a drill given by name or by path.

    Raises
    ------
    CoachError
        If there is neither a file nor a drill of that name; a near miss is suggested.
    """
    path = Path(name)
    try:
        if path.suffix == ".toml" or path.exists():
            return path
    except OSError:  # a name longer than any file's
        pass
    known = {each.stem: each for each in list_drills()}
    if name in known:
        return known[name]
    guess = nearest(name, list(known))
    raise CoachError("drill.unknown", where=name or "(no name)", nearest=guess)


def read_drill(path: str | Path) -> Drill:
    """Return the drill in a file.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    Drill

    Raises
    ------
    CoachErrors
        With every problem of the file, each with its line.
    CoachError
        If there is no such file, or it is not TOML.
    """
    table = read_table(path, what="drill")
    drill = drill_from_table(table, name=Path(path).stem)
    table.problems.raise_if_any()
    assert drill is not None  # without a problem there is a drill
    return drill


def pattern_data(path: str | Path) -> dict[str, Any]:
    """Return the movement in a drill's file as plain values, to be kept with a plan."""
    table = read_table(path, what="drill")
    return {name: table.data[name] for name in ("cycle", "phase", "hand", "carried") if name in table.data}


def drill_from_table(table: TomlTable, *, name: str) -> Drill | None:
    """Return the drill that a table describes, or None where its problems make that impossible.

    Parameters
    ----------
    table : TomlTable
        The file's top one; what is wrong is noted in it.
    name : str
        What the drill is called.
    """
    title = table.text("title", None)
    apparatus = table.choice("apparatus", APPARATUS, "none")
    texts = {key: table.text(key) for key in ("trains", "caution", "source", "notes")}
    if len(texts["caution"]) > LONGEST_CAUTION:
        found = len(texts["caution"])
        table.problem("caution", "caution.too_long", most=LONGEST_CAUTION, letters=found)
    faults = tuple(_read_faults(table))
    worn_at = table.choices("worn_at", WORN_AT)
    practice, allowance = _read_practice(table.table("practice"))
    pattern = read_pattern(table)
    table.no_more()
    if pattern is None:
        return None
    return Drill(
        name=name,
        title=title,
        apparatus=apparatus,
        pattern=pattern,
        practice=practice,
        allowance=allowance,
        faults=faults,
        worn_at=worn_at,
        **texts,
    )


def read_pattern(table: TomlTable) -> Pattern | None:
    """Return the pattern in a drill's table, collecting its problems."""
    before = len(table.problems.found)
    cycle = table.table("cycle")
    counts = cycle.number("counts", None, low=0.25, high=64)
    restart = cycle.choice("restart", ("never", "eight"), "never")
    cycle.no_more()
    phases, circles = _read_phases(table, counts)
    carried = _read_carried(table)
    hands = tuple(_read_hands(table, counts, phases, circles, carried))
    if not hands and len(table.problems.found) == before:
        table.problem("hand", "drill.no_hand")
    if len(table.problems.found) > before:
        return None
    try:
        return Pattern(counts, phases, hands, carried, "eight" if restart == "eight" else "never")
    except ValueError as error:
        table.problem("cycle", "entry.refused", said=str(error))
        return None


def _read_phases(table: TomlTable, cycle_counts: float) -> tuple[tuple[Phase, ...], dict[str, int]]:
    phases: list[Phase] = []
    circles: dict[str, int] = {}
    end_before = 0.0
    for each in table.tables("phase"):
        name = each.text("name", None)
        start, end = each.count("start"), each.count("end")
        number = each.whole("circles", 0, low=0, high=32)
        each.no_more()
        if name in circles:
            each.problem("name", "phase.twice", name=name)
        if math.isfinite(start) and math.isfinite(end):
            if end <= start:
                each.problem("end", "phase.ends_before_start")
            elif start < end_before - SAME_PLACE:
                each.problem("start", "phase.overlaps")
            elif end > cycle_counts + SAME_PLACE:
                each.problem("end", "phase.outside_cycle", cycle_counts=cycle_counts)
            else:
                phases.append(Phase(name, start, end))
                end_before = end
        circles[name] = number
    return tuple(phases), circles


def _read_carried(table: TomlTable) -> Carried | None:
    if not table.has("carried"):
        return None
    each = table.table("carried")
    circles = each.whole("circles", None, low=1, high=32)
    frame = each.choice("frame", ("room", "arm"), "room")
    sense = each.choice("sense", ("same", "opposite"), "same")
    each.no_more()
    try:
        return Carried(circles, "arm" if frame == "arm" else "room", "opposite" if sense == "opposite" else "same")
    except ValueError as error:
        each.problem("circles", "entry.refused", said=str(error))
        return None


def _read_hands(
    table: TomlTable, cycle_counts: float, phases: tuple[Phase, ...], circles: dict[str, int], carried: Carried | None
) -> Iterator[Hand]:
    seen: set[str] = set()
    for each in table.tables("hand"):
        name = each.text("name", None)
        if name in seen:
            each.problem("name", "hand.twice", name=name)
        seen.add(name)
        lag = each.number("lag", 0.0, low=-64, high=64)
        plane, direction = each.text("plane"), each.text("direction")
        own = _read_own_circles(each, phases)
        given = tuple(_read_moments(each))
        each.no_more()
        moments = (
            place_carried(cycle_counts, carried, lag_counts=lag)
            if carried and not given
            else place_moments(phases, circles | own, given, lag_counts=lag)
        )
        if not moments:
            # phases that could not be read have no circles: that has been said already
            if not table.problems.found:
                each.problem("name", "hand.nothing_to_do")
            continue
        try:
            yield Hand(name, moments, plane, direction)
        except ValueError as error:
            each.problem("moment", "entry.refused", said=str(error))


def _read_own_circles(hand: TomlTable, phases: tuple[Phase, ...]) -> dict[str, int]:
    """Return the circles per phase in which one hand differs from its phases."""
    own = hand.table("circles")
    known = [phase.name for phase in phases]
    read = {}
    for name in own.data:
        if name in known:
            read[name] = own.whole(name, None, low=0, high=32)
        else:
            guess = nearest(name, known)
            own.problem(name, "phase.unknown", nearest=guess)
    return read


def _read_moments(hand: TomlTable) -> Iterator[Moment]:
    for each in hand.tables("moment"):
        moment = Moment(each.count("at"), each.text("label", None), each.text("kind", "circle"))
        each.no_more()
        if math.isfinite(moment.at) and moment.label:
            yield moment


def _read_faults(table: TomlTable) -> Iterator[tuple[str, str]]:
    for each in table.tables("fault"):
        yield each.text("fault", None), each.text("say", None)
        each.no_more()


def _read_practice(table: TomlTable) -> tuple[Practice, float]:
    default = Practice()
    slowest, fastest = default.tempi_bpm
    cues = table.choice("cues", CUE_WAYS, default.cues)
    least_pct = LEAST_ALLOWANCE * 100
    low, high = TEMPO_RANGE_BPM
    practice = Practice(
        lead_in_counts=table.whole("lead_in", LEAD_IN_COUNTS, low=0, high=32),
        cycles=table.whole("cycles", CYCLES, low=1, high=10_000),
        cues=cues,  # type: ignore[arg-type]  # checked just above
        tempo_bpm=table.number("tempo", default.tempo_bpm, low=low, high=high),
        tempi_bpm=(
            table.number("slowest", slowest, low=low, high=high),
            table.number("fastest", fastest, low=low, high=high),
        ),
    )
    allowance = table.number("allowance_pct", least_pct, low=least_pct, high=50) / 100
    table.no_more()
    return practice, allowance

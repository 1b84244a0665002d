"""The set-up as plain values: its lines, the chosen one, and what they ask for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from tempo_coach import coach
from tempo_coach.coach.practising.form_line import DEFAULT, DEVICE_WORDS, Line, alone, hand_alone
from tempo_coach.errors import CoachError
from tempo_coach.history.records import SOMEBODY, read_name
from tempo_coach.languages import tr
from tempo_coach.live.practice.session import Way
from tempo_coach.observe.observers import OBSERVERS
from tempo_coach.pattern.drill.drill import CUE_WAYS, TEMPO_RANGE_BPM
from tempo_coach.pattern.plan.layout import SPEED_RANGE
from tempo_coach.report.words.observers import list_choices
from tempo_coach.report.words.practising import ALL_EIGHTS, AS_LAID, CUES, ENOUGH_EIGHTS, FITTING_CYCLES

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from tempo_coach.coach import OpenRoutine, Request
    from tempo_coach.observe.observers import ObservedBy
    from tempo_coach.pattern.drill.drill import Drill

AS_TAUGHT, MIRRORED = "as taught", "mirrored"
#: Lines that the routine answers, and what they show when nobody has.
_ANSWERED = (("tempo", DEFAULT), ("cycles", DEFAULT), ("hands", AS_TAUGHT))


#: The drill that a set-up without a request begins with.
FIRST_DRILL = "clubs_mills"
CLICKED, SPOKEN = "clicked", "spoken"


@dataclass(frozen=True)
class Form:
    """The whole set-up."""

    lines: tuple[Line, ...]

    def line(self, key: str) -> Line:
        """Return a line by its key."""
        return next(line for line in self.lines if line.key == key)

    def value(self, key: str) -> str:
        """Return what stands in a line."""
        return self.line(key).value

    def put(self, line: Line) -> Form:
        """Return the set-up with a line replaced by its key."""
        return replace(self, lines=tuple(line if each.key == line.key else each for each in self.lines))

    def with_choices(self, key: str, more: Sequence[str]) -> Form:
        """Return the set-up with further choices in a line, known ones left out."""
        line = self.line(key)
        return self.put(replace(line, choices=(*line.choices, *(each for each in more if each not in line.choices))))

    def with_labels(self, key: str, labels: Mapping[str, str]) -> Form:
        """Return the set-up with labels for a line's choices, which are put in that order where all are new."""
        line = self.line(key)
        known = {choice for choice in line.choices if choice in labels}
        ordered = [choice for choice in labels if choice in known]
        others = [choice for choice in line.choices if choice not in labels]
        choices = (*ordered, *others) if len(labels) > 1 else line.choices
        return self.put(replace(line, choices=tuple(choices), labels={**line.labels, **labels}))

    @property
    def chosen(self) -> dict[str, str]:
        """Values of the lines by their keys, except whose take it is."""
        return {line.key: line.value for line in self.lines if line.key not in ("athlete", "language")}

    def with_chosen(self, chosen: Mapping[str, str]) -> Form:
        """Return the set-up with somebody's earlier values; those no longer available keep their defaults."""
        form = self
        for line in self.lines:
            value = chosen.get(line.key, "")
            free = line.kind != "choice" or line.key in ("device", "hands") or value in line.choices
            if value and free and line.key != "athlete":
                more = (value,) if line.kind == "choice" and value not in line.choices else ()
                form = form.put(replace(line, value=value, choices=(*line.choices, *more)))
        return form

    @property
    def idle(self) -> frozenset[str]:
        """Keys of lines without effect at present: places in music without any, columns that are clear."""
        lines = {line.key: line for line in self.lines}
        keys: set[str] = set()
        if "music" in lines and not lines["music"].value.strip():
            keys |= {"from_eight", "speed"}
        if "takes" in lines and lines["takes"].value in (DEFAULT, "1"):
            keys.add("rest")
        # of members two lines, and one more than have been filled
        members = [line for key, line in lines.items() if key.startswith("member ")]
        filled = max((k for k, line in enumerate(members, 1) if line.value != DEFAULT), default=0)
        keys |= {line.key for line in members[max(filled + 1, 2) :]}
        if "columns" in lines and not lines["columns"].choices:
            keys.add("columns")
        return frozenset(key for key in keys if key in lines and lines[key].value == DEFAULT)

    @property
    def athlete(self) -> str:
        """Name under which takes are put into the history.

        Raises
        ------
        CoachError
            If that is no name.
        """
        return read_name(self.value("athlete").strip() or SOMEBODY)

    def for_drill(self, drill: Drill) -> Form:
        """Return the set-up with the defaults of a drill, alone or on music."""
        practice = drill.practice
        form = self
        music = self.value("music").strip() != DEFAULT
        for key, default in (
            ("tempo", "as heard" if music else f"{practice.tempo_bpm:g}"),
            ("cycles", FITTING_CYCLES if music else f"{practice.cycles}"),
            ("eights", ALL_EIGHTS if music else ENOUGH_EIGHTS),
            ("cues", CUES.get(practice.cues, practice.cues)),
        ):
            form = form.put(replace(form.line(key), default=default))
        return form.put(_hands_of(form.line("hands"), drill.pattern.hand_names))

    def request(self) -> Request:
        """Return the request to practise.

        Raises
        ------
        CoachError
            If a number is out of its range.
        """
        from tempo_coach.coach import Request

        music = self.value("music").strip()
        from_eight, eights = self.line("from_eight").number, self.line("eights").number
        cycles, speed = self.line("cycles").number, self.line("speed").number
        cues = self.value("cues")
        return Request(
            drill=self.value("drill"),
            music=music or None,
            tempo_bpm=self.line("tempo").number,
            from_eight=int(from_eight or 1),
            eights=int(eights) if eights else None,
            cycles=int(cycles) if cycles else None,
            speed=(speed or 100.0) / 100.0,
            cues=cues or None,  # type: ignore[arg-type]  # the choices are the ways of cueing
            mirrored=self.value("hands") == MIRRORED,
            hand=hand_alone(self.value("hands")),
            spoken=self.value("counts") == SPOKEN,
        )

    @property
    def observed_by(self) -> ObservedBy:
        """Way of observing the takes."""
        return list_choices()[self.value("observer")]

    def with_way(self, way: Way, observed_by: ObservedBy) -> Form:
        """Return the set-up with the settings of a practice that has begun, and its way of observing."""
        chosen = {"steps": "no" if way.steps is None else "yes"}
        default_way = Way()
        for key, number, default in (
            ("ready", way.ready, default_way.ready),
            ("takes", way.takes, default_way.takes),
            ("rest", way.rest, default_way.rest),
        ):
            chosen[key] = DEFAULT if number == default else f"{number:g}"
        names = {kind: name for name, kind in list_choices().items()}
        chosen["observer"] = names.get(observed_by, self.value("observer"))
        form = self
        for key, value in chosen.items():
            form = form.put(replace(form.line(key), value=value))
        return form

    def way(self, drill: Drill | None) -> Way:
        """Return the settings of the practice from take to take; a run-through (None) keeps its tempo."""
        steps = drill is not None and self.value("steps") == "yes" and OBSERVERS[self.observed_by].is_there
        return Way(
            ready=self.line("ready").number or 0.0,
            takes=int(self.line("takes").number or 1),
            rest=self.line("rest").number or Way().rest,
            steps=drill.practice.steps if drill is not None and steps else None,
        )


def make_form(
    drills: Sequence[str], request: Request | None = None, *, device: str | None = None, athlete: str = SOMEBODY
) -> Form:
    """Return a set-up with the defaults, or as a request has it.

    Parameters
    ----------
    drills : sequence of str
        Names of the drills there are.
    athlete : str
        In whose name takes are put into the history.
    """
    names = tuple(drills)
    first = FIRST_DRILL if FIRST_DRILL in names else names[0]
    if request is not None and request.drill not in names:
        names = (request.drill, *names)
    choices = list_choices()
    low, high = SPEED_RANGE
    slowest, fastest = TEMPO_RANGE_BPM
    lines = (
        Line(
            "athlete",
            "whose take",
            DEFAULT if athlete == SOMEBODY else athlete,
            kind="text",
            default=f"{SOMEBODY}",
            completes=True,
        ),
        Line("drill", "drill", request.drill if request else first, names),
        Line("music", "music", (request and request.music) or DEFAULT, kind="text", default="none, a plain tempo"),
        Line("tempo", "tempo", kind="number", step=4, low=slowest, high=fastest, begin=100, unit="a minute"),
        Line("cycles", "cycles", kind="number", low=1, high=999, begin=8),
        Line("from_eight", "from eight", kind="number", low=1, high=999, default="1"),
        Line("eights", "eights", kind="number", low=1, high=999, begin=4),
        Line(
            "speed",
            "speed",
            kind="number",
            step=5,
            low=low * 100,
            high=high * 100,
            default="100",
            unit="% of the music's",
        ),
        Line("cues", "cues", DEFAULT, (DEFAULT, *CUE_WAYS)),
        Line("counts", "counts", CLICKED, (CLICKED, SPOKEN)),
        Line("hands", "hands", AS_TAUGHT, (AS_TAUGHT, MIRRORED)),
        Line("observer", "observed by", next(iter(choices)), tuple(choices)),
        Line("ready", "walk-in", kind="number", step=5, low=0, high=600, default="0", unit="s"),
        Line("takes", "takes", kind="number", low=1, high=100, default="1", unit="in a row"),
        Line("rest", "rest", kind="number", step=5, low=1, high=3600, default="20", unit="s between takes"),
        Line("steps", "tempo steps", "no", ("no", "yes")),
        Line("device", "sound", device or DEFAULT, tuple(dict.fromkeys((*DEVICE_WORDS, device or DEFAULT)))),
    )
    form = Form(lines)
    if request is None:
        return form
    for key, number in (
        ("tempo", request.tempo_bpm),
        ("cycles", request.cycles),
        ("from_eight", request.from_eight if request.from_eight != 1 else None),
        ("eights", request.eights),
        ("speed", request.speed * 100 if request.speed != 1 else None),
    ):
        form = form.put(replace(form.line(key), value=DEFAULT if number is None else f"{number:g}"))
    hands = alone(request.hand) if request.hand else MIRRORED if request.mirrored else AS_TAUGHT
    form = form.with_choices("hands", (hands,)).put(replace(form.line("cues"), value=request.cues or DEFAULT))
    form = form.put(replace(form.line("counts"), value=SPOKEN if request.spoken else CLICKED))
    return form.put(replace(form.line("hands"), value=hands))


def _hands_of(line: Line, names: Sequence[str]) -> Line:
    """Return the line of hands for a drill: each of several hands can be practised alone."""
    choices = (AS_TAUGHT, MIRRORED, *(alone(name) for name in names if len(names) > 1))
    return replace(line, choices=choices, value=line.value if line.value in choices else AS_TAUGHT)


def offer_laid(form: Form) -> Form:
    """Return the set-up with what the routine has laid among its drills, or without it where there is no routine."""
    line = form.line("drill")
    others = tuple(each for each in line.choices if each != AS_LAID)
    if coach.is_routine(form.value("music").strip()):
        return form.put(replace(line, choices=(*others, AS_LAID)))
    default = FIRST_DRILL if FIRST_DRILL in others else others[0]
    return form.put(replace(line, choices=others, value=default if line.value == AS_LAID else line.value))


def open_run_through(form: Form, *, progress: Callable[[float], None] | None = None) -> tuple[Request, OpenRoutine]:
    """Return the eights of its routine that the set-up asks for, and the routine with its music heard.

    Parameters
    ----------
    form : Form
        Its drill is ``AS_LAID``.
    progress : callable or None

    Raises
    ------
    CoachError
        If nothing is laid there, the routine or its music cannot be read, or the set-up says what the routine says.
    """
    for key, unsaid in _ANSWERED:
        line = form.line(key)
        if line.value != unsaid:
            raise CoachError("form.said_by_routine", where=tr(line.label))
    request = form.request()
    path = form.value("music").strip()
    try:
        coach.check_laid_on(path, request.from_eight, request.last_eight)
    except CoachError as error:  # told by the line of the set-up, not by an option of a command
        raise error.at(tr(form.line("from_eight").label)) from error
    return request, coach.open_routine(path, progress=progress)

"""Errors of drills, plans, routines and tosses, and with the files that people write of them, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.report.words.amounts import say_decimal
from tempo_coach.report.words.errors.forms import did_you_mean, either, or_else
from tempo_coach.report.words.errors.resources import HINTS, WANTED

if TYPE_CHECKING:
    from tempo_coach.report.words.errors.forms import Entry

_EXAMPLE = "for example: low 1, rise, high 2, fall"
#: What the quantities of a toss are told in, as they are given.
_UNITS = {
    "counts": "counts",
    "tempo": "beats a minute",
    "flight": "s",
    "release": "m above the floor",
    "catch": "m above the floor",
    "distance": "m, the floor's diagonal",
    "rise": "m",
    "apex": "m above the floor",
    "speed": "m/s",
    "angle": "degrees above the horizontal",
}


_QUANTITIES = {
    "tempo": "a tempo of {within}",
    "flight": "a flight of {within}",
    "release": "a release of {within}",
    "catch": "a catch of {within}",
    "distance": "a distance of {within}",
    "rise": "a rise of {within}",
    "apex": "an apex of {within}",
    "speed": "a speed of {within}",
    "angle": "an angle of {within}",
}


def _out_of_range(quantity: str, low: float, high: float, value: float, found: bool) -> str:
    return _beyond(quantity, tr("{low:g} to {high:g}", low=low, high=high), value, found)


def _out_of_open_range(quantity: str, low: float, high: float, value: float, found: bool) -> str:
    return _beyond(quantity, tr("more than {low:g} and up to {high:g}", low=low, high=high), value, found)


def _beyond(quantity: str, expected: str, value: float, found: bool) -> str:
    within = f"{expected} {tr(_UNITS[quantity])}"
    if quantity in _QUANTITIES:
        within = tr(_QUANTITIES[quantity], within=within)
    got = tr("it would have to be {value:.2f}", value=value) if found else tr("got {value:g}", value=value)
    return tr("expected {within}, {got}", within=within, got=got)


def _nearest_value(nearest: float | None) -> str:
    return "" if nearest is None else tr("the nearest is {nearest:g}", nearest=nearest)


def _lasting(flight_s: float, counts: float | None, tempo_bpm: float | None, keeps_tempo: bool) -> str:
    """Return a time in the air, with counts at the toss's tempo, or the tempo if counts were stated."""
    if counts is None or tempo_bpm is None:
        return f"{say_decimal(flight_s, '.2f')} s"
    if not keeps_tempo:
        return tr(
            "{flight_s:.2f} s, {counts:g} counts at {counts_2:.0f} beats a minute",
            flight_s=flight_s,
            counts=counts,
            counts_2=60 * counts / flight_s,
        )
    return tr(
        "{flight_s:.2f} s ({flight_s_2:.2f} counts at {tempo_bpm:.0f} beats a minute)",
        flight_s=flight_s,
        flight_s_2=flight_s * tempo_bpm / 60,
        tempo_bpm=tempo_bpm,
    )


def _too_short(
    flight_s: float,
    counts: float | None,
    tempo_bpm: float | None,
    release_m: float,
    catch_m: float,
) -> tuple[str, str]:
    return _lasting(flight_s, counts, tempo_bpm, True), tr(
        "from {release_m:.2f} m to {catch_m:.2f} m", release_m=release_m, catch_m=catch_m
    )


def _thrown_down(
    flight_s: float,
    counts: float | None,
    tempo_bpm: float | None,
    release_m: float,
    catch_m: float,
) -> str:
    time, way = _too_short(flight_s, counts, tempo_bpm, release_m, catch_m)
    return tr("in {time} {way} it would be thrown downwards", time=time, way=way)


def _caught_rising(
    flight_s: float,
    counts: float | None,
    tempo_bpm: float | None,
    release_m: float,
    catch_m: float,
) -> str:
    time, way = _too_short(flight_s, counts, tempo_bpm, release_m, catch_m)
    return tr("in {time} {way} it would be caught while it still rises", time=time, way=way)


def _shortest(nearest_s: float, counts: float | None, tempo_bpm: float | None, keeps_tempo: bool) -> str:
    return tr(
        "the shortest that goes up and comes down is {lasting}",
        lasting=_lasting(nearest_s, counts, tempo_bpm, keeps_tempo),
    )


def _above_halls(
    flight_s: float,
    counts: float | None,
    tempo_bpm: float | None,
    rise_m: float,
    highest_m: float,
) -> str:
    return tr(
        "{lasting} in the air would rise {rise_m:.0f} m above the release, and no hall is higher than "
        "{highest_m:.0f} m",
        lasting=_lasting(flight_s, counts, tempo_bpm, True),
        rise_m=rise_m,
        highest_m=highest_m,
    )


def _longest(nearest_s: float, counts: float | None, tempo_bpm: float | None, keeps_tempo: bool) -> str:
    return tr("the longest is {lasting}", lasting=_lasting(nearest_s, counts, tempo_bpm, keeps_tempo))


def _contradiction(quantity: str, value: float, others: list[tuple[str, float]], reckoned: float) -> str:
    told = ", ".join(f"{name} {other:g}" for name, other in others)
    return tr(
        "{quantity} {value:g} does not go with {told}: from those follows {quantity} {reckoned:.6g}",
        quantity=quantity,
        value=value,
        told=told,
        reckoned=reckoned,
    )


def _eights_empty(first: int, last: int | None, there: list[tuple[str, int, int]]) -> str:
    places = ", ".join(
        tr("{drill} on {start} to {end}", drill=drill, start=start, end=end) for drill, start, end in there
    )
    which = (
        tr("eight {first}", first=first)
        if first == last
        else tr("eights {first} to {last}", first=first, last=last or tr("the end"))
    )
    return tr("nothing is laid on {which}; there is {places}", which=which, places=places)


def _unknown_entry(known: list[str], nearest: str | None) -> str:
    return did_you_mean(nearest) or tr("known here: {names}", names=", ".join(known))


def _unknown_rules(known: list[str], nearest: str | None) -> str:
    return did_you_mean(nearest) or tr("there are: {names}", names=", ".join(known))


WORDS: dict[str, Entry] = {
    "rules.no_age": (
        "the table has no age class {age!r}, but {ages}",
        lambda nearest: tr("did you mean {nearest}?", nearest=nearest) if nearest else tr("name one of these"),
    ),
    "cut.pieces_alone": ("pieces belong to a table [cut], and there is none", "cut the music again: tempo-coach cut"),
    "cut.no_piece": ("expected one [[piece]] or more of it", "cut the music again: tempo-coach cut"),
    "cut.piece_backwards": "expected an end after {start_s:g} s",
    "cut.eights": "expected a list of whole numbers, the counts of each eight",
    "toss.catch_above_given_apex": (
        "the toss tops out at {apex_m:.2f} m above the floor and cannot be caught at {catch_m:.2f} m",
        "catch at {apex_m:.2f} m or lower",
    ),
    "drill.other_hand": "expected one of its hands ({hands}), got {hand!r}",
    "drill.unknown": ("there is no drill of that name, and no file either", or_else(HINTS["drill"])),
    "caution.too_long": "expected {most} letters at most, read before a take, got {letters}",
    "drill.no_hand": ("expected at least one hand, found none", "add a table headed [[hand]] with its name"),
    "phase.twice": "expected each phase once, got {name!r} again",
    "phase.ends_before_start": "expected the phase to end after it starts",
    "phase.overlaps": "expected the phase to start where the one before ends, or later",
    "phase.outside_cycle": "expected the phase to end inside the cycle of {cycle_counts:g} counts",
    "hand.twice": "expected each hand once, got {name!r} again",
    "hand.nothing_to_do": "expected at least one circle or moment for this hand",
    "phase.unknown": ("there is no phase of that name", did_you_mean),
    "circles.unreadable": ("expected a phase and its circles, got {part!r}", _EXAMPLE),
    "circles.phase_twice": "expected each phase once, got {phase!r} again",
    "circles.out_of_range": "expected 0 to 32 whole circles in {phase}, got {circles}",
    "circles.none": ("expected at least one circle", _EXAMPLE),
    "drill.no_plain_words": "expected plain words without quotes, got {word!r}",
    "cycle.out_of_range": "expected a cycle of 0.25 to 64 counts, got {counts:g}",
    "lag.out_of_range": "expected a lag of a few counts, got {lag_counts:g}",
    "file.more_problems": "and {more} more problems",
    "entry.no_text": "expected words in quotes, got {found}",
    "entry.no_number": "expected a number from {low:g} to {high:g}, got {found}",
    "entry.no_whole_number": "expected a whole number from {low} to {high}, got {found}",
    "entry.no_flag": "expected true or false, got {found}",
    "entry.no_table": "expected a table, got {found}",
    "entry.no_tables": "expected one or more tables headed [[{name}]]",
    "entry.unknown_too": "this entry is not known",
    "entry.missing": "expected the entry {name}, found none",
    "cycle.longer_than_eight": (
        "a cycle of {cycle_counts:g} counts that restarts with every eight is longer than one",
        "let it run on: take the line with restart out of the drill",
    ),
    "plan.no_cycle_in_take": "no whole cycle of {cycle_counts:g} counts fits into the {counts:g} counts of this take",
    "eight.below_one": "expected an eight from 1 on, got {eight}",
    "cues.few_cycles": (
        "cues thin out over {least} cycles or more, and there are {cycles}",
        "ask for more cycles or eights",
    ),
    "plan.tempo": "expected a tempo of {low_bpm:g} to {high_bpm:g} beats a minute, got {tempo_bpm:g}",
    "plan.lead_in": "expected a lead-in of 0 to 32 counts, got {lead_in_counts}",
    "plan.speed": "expected a speed of {low:g} to {high:g}, got {speed:g}",
    "plan.number": "expected a number from 1 to {most}, got {number}",
    "passage.beyond_music": (
        "the passage would end in eight {eight}, but the music ends in eight {last_eight}",
        "start earlier or ask for less",
    ),
    "routine.seconds_descend": "expected seconds in ascending order",
    "routine.steps_end": "expected the steps to end after they start",
    "music.gone": (
        "the music is gone: there is no such file, nor the same music under another name beside the routine",
        "bring it back, or write its new place under [music] in {routine}",
    ),
    "routine.no_toml": "the routine is not written over this file, which is no TOML ({said})",
    "rules.none": ("expected at least one rule, found none", "add a table headed [[rule]]"),
    "rules.most_below_least": "expected no less than the least, {least_s:g} s",
    "routine.thinning": ("cues thin out in one drill, not in a whole routine", "choose another way"),
    "routine.eight": "expected an eight of the music, 1 to {last}, got {from_eight}",
    "routine.empty_here": ("nothing is laid on these eights", "lay drills: tempo-coach counts {routine}"),
    "routine.empty": ("nothing is laid on its eights yet", "lay a drill on them: tempo-coach counts ROUTINE"),
    "body.not_ballistic": (
        "no ballistic plan holds for a {apparatus}: it bends, is slowed unevenly and pulls itself along",
        "set its release and its catch on counts in a drill, and find the height by trying",
    ),
    "moves.none": ("expected at least one move, found none", "add a table headed [[move]]"),
    "moves.no_counts": "expected more than 0 counts",
    "toss.catch_above_apex": (
        "the toss tops out at {apex_m:.2f} m above the floor and cannot be caught at {catch_m:.2f} m",
        (
            "catch at {apex_m:.2f} m or lower, or let it rise {rise_m:.2f} m above the release "
            "({up_mps:.2f} m/s upward) or more"
        ),
    ),
    "toss.falls_too_long": (
        (
            "falling from {apex_m:.2f} m to {catch_m:.2f} m alone takes {fall_s:.2f} s, longer than the "
            "flight of {flight_s:.2f} s"
        ),
        "the highest is {highest_m:.2f} m above the floor",
    ),
    "toss.too_flat": (
        "at {angle_deg:g} degrees it does not come down to {catch_m:.2f} m at a distance of {distance_m:g} m",
        "the flattest is {flattest_deg:.1f} degrees",
    ),
    "toss.too_slow": (
        (
            "at {speed_mps:g} m/s it does not get from {release_m:.2f} m to {catch_m:.2f} m at a "
            "distance of {distance_m:g} m"
        ),
        "the slowest is {slowest_mps:.2f} m/s",
    ),
    "toss.part_too_fast": (
        "the flight asks for {part_mps:.2f} m/s in one direction alone, more than the speed of {speed_mps:g} m/s",
        "the slowest is {part_mps:.2f} m/s",
    ),
    "toss.apex_below_release": (
        "the toss would top out at {apex_m:.2f} m above the floor, not above its release at {release_m:.2f} m",
        "the nearest is just above {release_m:.2f} m",
    ),
    "toss.never_at_catch": (
        "with that release it never comes up to the catch at {catch_m:g} m",
        "take a smaller error",
    ),
    "toss.reach": "expected a reach of more than 0 m, got {reach_m:g}",
    "toss.contradiction": (_contradiction, "leave {quantity} or one of the others out"),
    "entry.refused": "{said}",
    "entry.no_choice": (
        lambda choices, found: tr("expected {either}, got {found}", either=either(choices), found=found),
        did_you_mean,
    ),
    "entry.no_list": lambda choices, found: tr(
        "expected a list of none or some of {choices}, got {found}",
        choices=", ".join(f'"{each}"' for each in choices),
        found=found,
    ),
    "entry.unknown": ("this entry is not known", _unknown_entry),
    "toml.deep_name": lambda what: tr(
        "expected {what} in TOML, but a name in it has too many parts", what=tr(WANTED[what])
    ),
    "toml.unreadable": lambda what, said: tr(
        "expected {what} in TOML, but {said}{said_2}", what=tr(WANTED[what]), said=said[0].lower(), said_2=said[1:]
    ),
    "toml.too_deep": lambda what: tr("expected {what} in TOML, but it is nested too deeply", what=tr(WANTED[what])),
    "toml.too_many_digits": lambda what: tr(
        "expected {what} in TOML, but a number in it has too many digits", what=tr(WANTED[what])
    ),
    "apparatus.unknown": ("expected one of {known}, got {apparatus!r}", did_you_mean),
    "hand.listed_twice": "expected each hand once, got {hands}",
    "hand.none": "expected each hand once, got none",
    "passage.backwards": ("expected the last eight at or behind the first, {first}, got {last}", "name them in order"),
    "passage.no_cycle_from_there": ("no whole cycle of {cycle_counts:g} counts fits into the passage", "start earlier"),
    "passage.no_cycle_in_eights": (
        "no whole cycle of {cycle_counts:g} counts fits into the passage",
        "ask for more eights",
    ),
    "plan.none": ("expected a plan, found something else", HINTS["plan"]),
    "plan.version": ("expected a plan of version {known}, found version {version!r:.40}", HINTS["plan"]),
    "plan.not_whole": ("this is not a whole plan: {said}", HINTS["plan"]),
    "plan.no_json": ("expected a plan in JSON, but {said}", HINTS["plan"]),
    "plan.too_deep": ("expected a plan in JSON, but it is nested too deeply", HINTS["plan"]),
    "plan.too_many_digits": ("expected a plan in JSON, but a number in it has too many digits", HINTS["plan"]),
    "rules.unknown": ("there is no rule table of that name, and no file either", _unknown_rules),
    "routine.eights_empty": _eights_empty,
    "body.unknown": ("expected an apparatus that flies ({known}), got {apparatus!r}", did_you_mean),
    "toss.out_of_range": (_out_of_range, _nearest_value),
    "toss.out_of_open_range": (_out_of_open_range, _nearest_value),
    "toss.too_little": (
        lambda given: tr(
            "expected enough to tell how long the toss flies, got {names}",
            names=", ".join(map(tr, given)) or tr("nothing"),
        ),
        "give counts and tempo, or a flight in seconds, a height, a speed, or an angle and a distance",
    ),
    "toss.thrown_down": (_thrown_down, _shortest),
    "toss.caught_rising": (_caught_rising, _shortest),
    "toss.above_halls": (_above_halls, _longest),
}

"""Errors of what is scored and learnt, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tempo_coach.report.words.errors.forms import Entry

WORDS: dict[str, Entry] = {
    "group.size": (
        "expected {low} to {high} members, got {found}",
        lambda found: "of one recording of all who take turns, name them in order: Ada,Bea,Cyl=FILE" if found else "",
    ),
    "turns.few_rounds": (
        "expected {least} rounds or more of {members} who take turns, found fewer",
        "let them go on for longer",
    ),
    "turns.not_in_turn": (
        "{members} who take turns cannot be told apart: at the place of one hardly anything is heard",
        "name as many as take turns, in their order",
    ),
    "group.member": "expected a member ({members}), found {found}",
    "group.nothing_common": ("no two members did any moment together", "check that the clocks agree"),
    "group.no_common_moment": (
        "no moment of the plan has two onsets",
        "check that the clocks agree; one member alone is judged by tempo-coach score",
    ),
    "group.other_drill": "expected one drill for all, found {drill} ({member}) and {other_drill} ({other_member})",
    "group.other_plan": (
        "the plans of {member} and {other_member} differ ({moments} and {other_moments} moments)",
        "record the group to one plan, or score its members one by one",
    ),
    "exchange.member": "expected a member ({members}), found {found}",
    "formation.nobody": (
        "expected members, found {hand!r}",
        "a canon has counts as its hand, 'Bea:2, Cyl:4', mirrored hands have names, 'Dora, Eva'",
    ),
    "formation.no_counts": ("expected a member and by how many counts she is later, as in Bea:2, found {part!r}"),
    "exchange.no_moment": (
        "an exchange is asked on eight {eight} count {count}, where the plan has no moment",
        "set it on a count that the members' plan asks for",
    ),
    "exchange.no_catch": (
        "expected a catch behind the exchange, before anything else",
        'add a [[moment]] with what = "catch"',
    ),
    "exchange.no_pair": (
        "expected MEMBER:MEMBER, each throwing to one other, found {pair!r}",
        'who throws to whom is its hand, as in hand = "Ada:Bea, Bea:Ada"',
    ),
    "learn.few_cycles": ("expected at least {least} whole cycles to learn from, found {found}", "record a longer take"),
    "learn.no_hand": ("nothing says which hand did it", "say --hand right or --hand left"),
    "learn.counts_and_tempo": (
        "expected counts or a tempo, got both",
        "the take's own period gives one from the other",
    ),
    "learn.tempo": (
        "a cycle of {period_s:.3f} s with {counts:g} counts is {tempo_bpm:.0f} beats a minute",
        "choose counts that give 20 to 400",
    ),
    "trace.only_flies": ("nothing in the trace repeats, it only flies", "choose another point, or a longer stretch"),
}

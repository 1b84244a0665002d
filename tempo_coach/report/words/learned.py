"""A drill that was made of a take: its file, and what the command says of it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.observe.trace.stamps import CLOCK_JUMPED
from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.report.drawings.drill import draw_drill
from tempo_coach.report.words.amounts import several
from tempo_coach.report.words.broken import say_counts
from tempo_coach.report.words.reasons import say_reason

if TYPE_CHECKING:
    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.pattern.drill.drill import Drill
    from tempo_coach.score.trace.learn import Learned

_PHASES = ("low", "rise", "high", "fall")


def format_learned(learned: Learned, drill: Drill, trace: Trace, *, path: str) -> str:
    """Return what was learned: the drill drawn, what was mended or left out, where it is written."""
    return "\n".join(
        [
            draw_drill(drill),
            *(tr("read: {reason}", reason=say_reason(note)) for note in trace.notes if note.code in CLOCK_JUMPED),
            *(tr("left out: {reason}", reason=say_reason(reason)) for reason in learned.left_out),
            "",
            tr(
                "{counts} at {tempo_bpm:.1f} beats a minute, written to {out}",
                counts=say_counts(learned.counts),
                tempo_bpm=learned.tempo_bpm,
                out=path,
            ),
        ]
    )


def write_drill(learned: Learned) -> str:
    """Return the text of the drill's file, with what was left out as comments."""
    tempo, counts = learned.tempo_bpm, learned.counts
    cycles = several(learned.cycles, "cycle")
    notes = tr("{cycles} of {period:.3f} s", cycles=cycles, period=learned.period)
    lines = [
        f"# {tr('Made of a take: the places are means over its cycles, the allowance is twice their spread.')}",
        *(f"# {tr('left out: {reason}', reason=say_reason(reason))}" for reason in learned.left_out),
        f"title = {_quote(learned.title)}",
        f"apparatus = {_quote(learned.apparatus)}",
        f"trains = {_quote(tr('the places at which the circles of this take fell'))}",
        f"notes = {_quote(notes)}",
        "",
        "[practice]",
        f"tempo = {round(tempo, 1):g}",
        f"slowest = {max(20, round(0.6 * tempo)):g}",
        f"fastest = {min(400, round(1.3 * tempo)):g}",
        f"allowance_pct = {learned.allowance_pct:.1f}",
        "",
        "[cycle]",
        f"counts = {counts:g}",
        "",
        *(_write_phases(counts) if learned.carried else ()),
    ]
    for hand in learned.hands:
        lines += ["[[hand]]", f"name = {_quote(hand.name)}"]
        lines += [f"lag = {hand.lag:.4g}"] if math.isfinite(hand.lag) else []
        lines.append("")
        for at, label in _moments(learned):
            lines += ["[[hand.moment]]", f"at = {_quote(at)}", f"label = {_quote(label)}", ""]
    return "\n".join(lines)


def _moments(learned: Learned) -> list[tuple[str, str]]:
    if not learned.carried:
        return [("1", "circle")]
    return [
        (say_count(round(at * learned.counts, 3)), f"{_PHASES[min(int(at * 4), 3)]} {number}")
        for number, at in enumerate(learned.places, start=1)
    ]


def _write_phases(counts: float) -> list[str]:
    lines = []
    for number, name in enumerate(_PHASES):
        start, end = (say_count(round(counts * part / 4, 6)) for part in (number, number + 1))
        lines += ["[[phase]]", f'name = "{name}"', f'start = "{start}"', f'end = "{end}"', ""]
    return lines


def _quote(text: str) -> str:
    safe = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{safe}"'

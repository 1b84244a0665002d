"""Words for steps of tempo: the rule, and what it did after a take."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.pattern.drill.drill import TempoChange

if TYPE_CHECKING:
    from tempo_coach.pattern.drill.drill import TempoStep, TempoSteps


def say_rule(steps: TempoSteps | None) -> str:
    """Return the rule in one sentence; empty without steps.

    Examples
    --------
    >>> from tempo_coach.pattern.drill.drill import TempoSteps
    >>> say_rule(TempoSteps(60, 120, step=4, steady_takes=2))
    'Up 4 after 2 steady takes in a row, down 4 after one that was not, 120 at most.'
    """
    if steps is None:
        return ""
    takes = "a steady take" if steps.steady_takes == 1 else f"{steps.steady_takes} steady takes in a row"
    return (
        f"Up {steps.step:g} after {takes}, down {steps.step:g} after one that was not, {_say(steps.highest)} at most."
    )


def say_step(step: TempoStep | None) -> str:
    """Return what the rule did after a take, and why; empty before the first.

    Examples
    --------
    >>> from tempo_coach.pattern.drill.drill import TempoSteps
    >>> say_step(TempoSteps(60, 120).after(100, [True]))
    'Stay at 100: 1 more steady one to go up.'
    """
    if step is None:
        return ""
    tempo = _say(step.tempo_bpm)
    steady = "A steady take" if step.takes == 1 else f"{step.takes} steady takes in a row"
    match step.move:
        case TempoChange.UP:
            return f"{steady}: up to {tempo}."
        case TempoChange.HIGHEST:
            return f"{steady}: {tempo} is the highest already."
        case TempoChange.DOWN:
            return f"That one was not steady: down to {tempo}."
        case TempoChange.LOWEST:
            return f"That one was not steady: {tempo} is the lowest already."
        case TempoChange.STAY:
            return f"Stay at {tempo}: {step.takes} more steady one{'s' if step.takes > 1 else ''} to go up."


def _say(tempo_bpm: float) -> str:
    return f"{round(tempo_bpm, 1):g}"

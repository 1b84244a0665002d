"""A group without music: its onsets are aligned by its own beat, since a recorder's start means nothing."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.members import who_overlap
from tempo_coach.observe.take.onsets import Onsets, Take

if TYPE_CHECKING:
    from collections.abc import Mapping

    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.times import Floats

#: Share by which a group's tempo may differ from the given one.
OTHER_TEMPO = 0.06
#: Onsets of each member that say which: evenly drawn from a longer take.
SAMPLE = 400
#: Tempos that are tried over the one at which the last onset would be a whole step off.
FINE = 16
#: Longest steps after a first onset within which the next one has to come, or it was a noise before they began.
ALONE = 1.5
#: Part of a turn within which an onset says how the tempo is to be mended.
NEAR = 0.3
#: Shares of a step within which all steps of a plan are one.
EVEN = 0.01


def set_on_own_beat(takes: Mapping[str, Take]) -> dict[str, Take]:
    """Return the takes with the plan's first moment on the group's first beat, at the group's tempo.

    Parameters
    ----------
    takes : mapping of member to Take
        All of the same plan, on one clock whose start means nothing.

    Returns
    -------
    dict of member to Take
        Where all moments are as far apart, the tempo that fits best within ``OTHER_TEMPO`` and the place within a step
        at which the members lie around the beat; else the place alone, by the first onsets.
    """
    plan = next(iter(takes.values())).plan
    spans = {member: (take.onsets.time[0], take.onsets.time[-1]) for member, take in takes.items() if len(take.onsets)}
    those = [takes[member] for member in who_overlap(spans)]
    steps = np.diff(np.unique(plan.moments.time))
    if not those or not steps.size:
        return dict(takes)
    first = float(plan.moments.time[0])
    moved = first - min(_begin(take.onsets.time, ALONE * float(steps.max())) for take in those)
    if np.ptp(steps) <= EVEN * float(np.median(steps)):
        asked = float(np.median(steps))
        onsets = [_draw(take.onsets.time) + moved - first for take in those]
        step = _find_step(onsets, asked)
        turns = np.exp(2j * np.pi * np.concatenate(onsets) / step)
        moved -= float(np.angle(turns.mean())) / (2 * np.pi) * step
        plan = _stretch(plan, step / asked)
    return {
        member: replace(take, plan=plan, onsets=Onsets(take.onsets.time + moved, take.onsets.hand))
        for member, take in takes.items()
    }


def _begin(times: Floats, gap: float) -> float:
    """Return the first onset that another one follows within the gap; the first one where there is none."""
    followed = np.flatnonzero(np.diff(times) <= gap)
    return float(times[followed[0] if followed.size else 0])


def _draw(times: Floats) -> Floats:
    drawn: Floats = times[np.linspace(0, len(times) - 1, min(len(times), SAMPLE)).astype(int)]
    return drawn


def _find_step(onsets: list[Floats], asked: float) -> float:
    """Return the step at which each member's onsets have the most concentrated phase."""
    span = max(float(np.ptp(times)) for times in onsets)
    if span < 4 * asked:
        return asked
    size = int(np.ceil(OTHER_TEMPO * span / asked * FINE))
    rates = (1 + np.linspace(-OTHER_TEMPO, OTHER_TEMPO, 2 * size + 1)) / asked
    together = sum(np.abs(np.exp(2j * np.pi * np.outer(rates, times)).sum(axis=1)) for times in onsets)
    rate = float(rates[int(np.argmax(together))])
    for _ in range(2):
        products = squares = 0.0
        for times in onsets:
            turns = np.exp(2j * np.pi * rate * times)
            off = np.angle(turns * np.conj(turns.mean())) / (2 * np.pi)
            near = np.abs(off) < NEAR
            if near.sum() > 2:
                place = times[near] - times[near].mean()
                products += float(place @ off[near])
                squares += float(place @ place)
        rate -= products / squares if squares else 0.0
    return 1 / rate


def _stretch(plan: Plan, share: float) -> Plan:
    """Return the plan slowed from its first moment on."""
    first = float(plan.moments.time[0])

    def moved(times: Floats) -> Floats:
        later: Floats = first + (times - first) * share
        return later

    return replace(
        plan,
        tempo_bpm=None if plan.tempo_bpm is None else plan.tempo_bpm / share,
        knot_times=moved(plan.knot_times),
        duration=max(first + (plan.duration - first) * share, 0.0),
        moments=replace(plan.moments, time=moved(plan.moments.time)),
        cues=replace(plan.cues, time=np.maximum(moved(plan.cues.time), 0.0)),
    )

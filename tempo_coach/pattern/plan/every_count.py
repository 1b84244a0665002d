"""A plan without a drill: one moment on every count, for whoever claps, steps or taps along."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from tempo_coach.pattern.drill.drill import Drill
from tempo_coach.pattern.drill.pattern import Hand, Moment, Pattern
from tempo_coach.pattern.plan.layout import lay_out
from tempo_coach.pattern.plan.plan import MusicSegment

if TYPE_CHECKING:
    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.pattern.plan.plan import Music, Plan

#: What the plan calls itself and what moves.
EVERY_COUNT, BODY = "every count", "body"


def lay_every_count(
    counts: CountMap, *, end: float, music: Music | None = None, tempo_bpm: float | None = None
) -> Plan:
    """Return a plan that asks for one moment on every count, from the first count 1 on.

    Parameters
    ----------
    counts : CountMap
    end : float
        Seconds on which the last eight lies, where there is no music; with music it goes on to its end.
    music : Music or None
    tempo_bpm : float or None
        Where there is no music.

    Returns
    -------
    Plan
        Its take clock is the music's own: 0 is the first sample of the file, or the first count 1 without music.
    """
    drill = Drill(
        name=EVERY_COUNT,
        title="A moment on every count",
        apparatus="none",
        pattern=Pattern(1.0, (), (Hand(BODY, (Moment(0.0, "count", "contact"),)),)),
    )
    # with music the passage is all of it
    eights = None if music is not None else max(1, counts.place(float(counts.counts_at(end))).eight)
    plan = lay_out(drill, counts, music=music, tempo_bpm=tempo_bpm, eights=eights, lead_in_counts=0, cues="none")
    ahead = plan.pieces[0].music_start
    return replace(
        plan,
        pieces=(MusicSegment(0.0, 0.0, 1.0),),
        knot_times=plan.knot_times + ahead,
        duration=plan.duration + ahead,
        moments=replace(plan.moments, time=plan.moments.time + ahead),
        cues=replace(plan.cues, time=plan.cues.time + ahead),
    )

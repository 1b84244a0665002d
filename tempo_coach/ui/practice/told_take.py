"""The result of a take in large letters and in figures: how even, which moment or hand stands apart."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from tempo_coach.coach.judging import compare_takes, measure_scatter
from tempo_coach.languages import tr
from tempo_coach.live.practice.session import Stage
from tempo_coach.observe.observers import OBSERVERS
from tempo_coach.report.pages.pictures import say_part
from tempo_coach.report.words.amounts import join_words, several
from tempo_coach.report.words.circle_sizes import tell_sizes
from tempo_coach.report.words.observers import say_observer
from tempo_coach.report.words.places import (
    tells_figures,
    tells_lateness,
)
from tempo_coach.report.words.sentence import tell

if TYPE_CHECKING:
    from tempo_coach.coach.practising.practice import EarlierTakes, FinishedTake
    from tempo_coach.live.practice.session import PracticeState
    from tempo_coach.score.card import Scorecard


#: Least seconds by which one circle has to stand apart from the others to be named.
APART = 0.010


class Told(NamedTuple):
    """Result of a take: in a few words, with its figures, in one sentence, and whether there is a scorecard."""

    head: str
    why: str
    say: str
    judged: bool = True


def tell_take(last: FinishedTake, previous: Scorecard | None, session: PracticeState, *, film_key: bool = True) -> Told:
    """Return the result of a take.

    Parameters
    ----------
    previous : Scorecard or None
        Of the take before it.
    session : PracticeState
        After the take.
    film_key : bool
        Whether there is a key by which its film or table is chosen.
    """
    by = last.take.observed_by
    observer = OBSERVERS[by]
    if not observer.is_there:
        return Told(tr("played"), tr("Nobody observed: nothing is told of it, and nothing is kept."), "", judged=False)
    head, why = compare(last.card, previous, last.before)
    if not last.card.plan.cycles and not observer.is_later:
        say = tr("It ended before the first cycle was over: nothing to tell yet.")
        return Told(tr("too short"), tr("Too few onsets to tell how steady it was."), say, judged=False)
    if len(last.take.onsets) or not (observer.is_later or observer.is_pressed):
        return Told(head, why, tell(last.card, previous))
    if observer.is_pressed:
        keys = ", ".join(f"{tr(hand)} {key.upper()}" for hand, key in session.keys)
        say = (
            tr("Press a hand's key at each of its marks ({keys}). Enter begins again.", keys=keys)
            if keys
            else tr("Press a hand's key at each of its marks. Enter begins again.")
        )
        return Told(tr("no taps"), tr("No key was pressed while the take ran."), say, judged=False)
    say = tr("The take's file holds what was asked: score what was observed against it.")
    if observer.is_later and film_key and session.stage is Stage.AFTER:
        say = (
            tr("F2, and its film is chosen: the scorecard comes from there.")
            if by == "film"
            else tr("F2, and its table is chosen: the scorecard comes from there.")
        )
    return Told(tr("done"), tr("Nothing was tapped: {observer} tells.", observer=say_observer(by)), say, judged=False)


def compare(card: Scorecard, previous: Scorecard | None, before: EarlierTakes | None = None) -> tuple[str, str]:
    """Return whether a take was steadier than the one before, for large letters and with its figures.

    Parameters
    ----------
    card, previous : Scorecard
        None where there is none to compare with.
    before : EarlierTakes or None
        What the history has, which ``previous`` may be out of.
    """
    if not tells_figures(card):
        return tr("no rhythm"), tr("The onsets do not go with the drill: no figure says anything.")
    if not tells_lateness(card):
        done, asked = card.value("period_mean_ms"), card.value("period_ratio_mean")
        figures = (
            ""
            if math.isnan(done)
            else tr("a cycle of {done:.0f} ms where {done_2:.0f} ms were asked", done=done, done_2=done / asked)
        )
        return tr("another tempo"), f"= {figures}" if figures else ""
    now = measure_scatter(card.plan, card.asynchrony).size
    kept, day = (before.kept, before.day) if before else (0, "")
    if math.isnan(now):
        return tr("too short"), tr("Too few onsets to tell how steady it was.")
    figures = tr("scatter {now:.1f} %", now=100 * now)
    if previous is None or not tells_lateness(previous):
        if kept:
            like = (
                tr("{takes} of this drill is kept, none of them like this one", takes=several(kept, "take"))
                if kept == 1
                else tr("{takes} of this drill are kept, none of them like this one", takes=several(kept, "take"))
            )
            return tr("first like it"), tr(
                "= {figures}: {like} (tempo, and how it was observed)", figures=figures, like=like
            )
        return tr("first take"), tr("= {figures}: the next take is compared with it", figures=figures)
    then = measure_scatter(previous.plan, previous.asynchrony).size
    if math.isnan(then):
        return tr("first take"), tr("= {figures}: the one before was too short to compare it with", figures=figures)
    figures += f", {tr('on {day}', day=day) if day else tr('before')} {tr('{number:.1f} %', number=100 * then)}"
    change = compare_takes(card, previous)
    if not change:
        return tr("as before"), tr("= {figures}: no more than chance", figures=figures)
    return (tr("steadier"), f"▲ {figures}") if change > 0 else (tr("less steady"), f"▼ {figures}")


def name_circle(card: Scorecard) -> str:
    """Return the moment that is early or late beside the others; empty without one."""
    parts = [part for part in card.parts.get("circle", ()) if part.n]
    if len(parts) < 2 or not tells_lateness(card):
        return ""
    biases = sorted(part.bias for part in parts)
    middle = biases[len(parts) // 2] if len(parts) > 2 else sum(biases) / 2
    worst = max(parts, key=lambda part: abs(part.bias - middle))
    off = worst.bias - middle
    if abs(off) < APART or math.isnan(worst.low) or worst.low <= middle <= worst.high:
        return tr("= on average, none stands apart from the others")
    return tr(
        "> {name}: {off:.0f} ms later than the others, on average"
        if off > 0
        else "< {name}: {off:.0f} ms earlier than the others, on average",
        name=say_part(worst, "circle"),
        off=abs(off) * 1000,
    )


def name_hand(card: Scorecard) -> str:
    """Return the scatter of each hand's cycles, the less steady one first; empty with one hand."""
    each = [(hand, measure_scatter(card.plan, card.asynchrony, (hand,))) for hand in card.plan.hands]
    each = [(hand, scatter) for hand, scatter in each if not math.isnan(scatter.size)]
    if len(each) < 2 or not tells_lateness(card):
        return ""
    (best, least), *_, (worst, most) = sorted(each, key=lambda one: one[1].size)
    if not most.exceeds(least):
        figures = join_words(
            (tr("{hand} {size:.1f} %", hand=tr(hand), size=100 * scatter.size) for hand, scatter in each),
            "{first} and {second}",
        )
        return tr("= as steady as each other: scatter {figures}", figures=figures)
    return tr(
        "{worst} is less steady: scatter {size:.1f} %, {best} {size_2:.1f} %",
        worst=tr(worst),
        size=100 * most.size,
        best=tr(best),
        size_2=100 * least.size,
    )


def name_size(card: Scorecard) -> str:
    """Return the circle of another size than its neighbours, and how many more there are; empty without one."""
    told = tell_sizes(card)
    more = len(told) - 1
    return tr("{said}, and {number} more", said=told[0], number=more) if more > 0 else "".join(told)

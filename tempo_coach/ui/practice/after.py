"""The card after a take: one sentence, the measures, then the cycles; also of a take that is over already."""

from __future__ import annotations

import math
from asyncio import to_thread
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text

from tempo_coach import coach
from tempo_coach.coach.notices import tell as tell_news
from tempo_coach.coach.practising.practice import FinishedTake
from tempo_coach.languages import tr
from tempo_coach.live.practice.course import begin
from tempo_coach.live.practice.session import Stage
from tempo_coach.observe.observers import OBSERVERS
from tempo_coach.report.words.card import say_kinds
from tempo_coach.report.words.live import say_rule, say_step
from tempo_coach.report.words.moments import FLAG_WORDS
from tempo_coach.report.words.places import (
    cycles_left_out,
    first_second,
    say_place,
    say_what_is_steady,
    tell_lost,
    tells_figures,
    tells_lateness,
)
from tempo_coach.report.words.practising import say_tempo
from tempo_coach.report.words.run_throughs import say_details, say_eights, say_sign, say_verdict
from tempo_coach.score.section_cards import SectionKind, worst_first
from tempo_coach.signs import columns as cells
from tempo_coach.signs import cut, pad, wrap
from tempo_coach.ui.glyphs import draw_letters, letters_width
from tempo_coach.ui.palette import HAND_MARKS, Palette
from tempo_coach.ui.practice.told_take import name_circle, name_hand, name_size, tell_take
from tempo_coach.ui.screen import BACK, HELP, LEAVE, CardScreen, Page, scroll_keys
from tempo_coach.ui.text_rows import HIGH, append_signs, bar, fill

if TYPE_CHECKING:
    from pathlib import Path

    from textual.binding import BindingType

    from tempo_coach.live.practice.session import PracticeState
    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.score.card import Scorecard
    from tempo_coach.score.scorecard import CycleCard

#: Least columns of what a row is called.
_LABEL = 8
#: Columns of a row of cycles that are neither the cycle nor its hand.
_BESIDE = 31
#: Columns of what broke in it, at least.
_WORDS = 10
#: Least columns of the cycle itself; where the screen has fewer, the row is cut.
_LEAST_COLUMNS = 8


def draw_after(
    done: list[FinishedTake],
    session: PracticeState,
    *,
    width: int,
    height: int,
    first_row: int,
    palette: Palette,
    alone: str = "",
) -> Page:
    """Return the rows of the card.

    Parameters
    ----------
    done : list of FinishedTake
        The takes so far, at least one.
    first_row : int
        How many rows of cycles are scrolled away.
    alone : str
        What is said of a take that is compared with no other one, in large letters.
    """
    last = done[-1]
    card = last.card
    previous = done[-2].card if len(done) > 1 else last.before.card
    head, why, say, judged = tell_take(last, previous, session)
    if alone and judged and tells_lateness(card):
        head, why = (
            alone,
            ""
            if math.isnan(card.value("spread_ms"))
            else tr("= spread {spread_ms:.0f} ms", spread_ms=card.value("spread_ms")),
        )
    nothing = not len(last.take.onsets)
    lines = [
        bar(f" {tr(card.plan.title)}", f"{tr('take {number}', number=session.number)} ", width, palette),
        Text(),
        *_headline(head, session, width, palette),
        *(Text(f"  {row}", palette.text) for row in wrap(why, width - 4) or [""]),
        Text(),
    ]
    found = {"circle": name_circle(card), "hand": name_hand(card), "size": name_size(card), "lost": tell_lost(card)}
    if card.sections:  # circles and hands of several drills are not compared
        found = {"lost": tell_lost(card)}
    told = [(tr(name), value, palette.text) for name, value in found.items()]
    told.append((tr("say"), say, palette.strong))
    if session.way.steps is not None:
        told.append((tr("tempo"), say_step(session.tempo_step), palette.text))
        rule = (
            f"{say_rule(session.way.steps)} {say_what_is_steady()}"
            if height >= HIGH - 1
            else say_rule(session.way.steps)
        )
        told.append((tr("rule"), rule, palette.faint))
    if session.tempo_asked is not None:
        told.append((tr("next"), tr("at {tempo}", tempo=say_tempo(session.tempo_asked)), palette.strong))
    style = palette.warning if last.told or last.unkept else palette.faint
    label = max(_LABEL, *(cells(name) + 1 for name, value, _ in told if value), cells(tr("take")) + 1)
    told.append((tr("take"), _where(last, width - label - 4), style))
    for name, value, of in told:
        for k, row in enumerate(wrap(value, width - label - 4)):
            lines.append(Text(f"  {pad('' if k else name, label)}", palette.faint).append(row, of))
    lines.append(Text())
    if nothing or not tells_figures(card):
        table = []
    elif card.sections:
        table = _sections(card, width, palette)
    else:
        table = _cycles(card, width, palette)
    columns, cycles, room = table[:1], table[1:], height - len(lines) - 1
    if room < 1:
        return Page(fill(lines, width, height, palette))
    first = max(0, min(first_row, len(cycles) - room))
    rows = [*lines, *columns, *cycles[first : first + room]]
    return Page(fill(rows, width, height, palette), first, len(cycles[first + room :]))


def _where(done: FinishedTake, room: int) -> str:
    """Return where a take is kept, or what is known of it; a long path is cut to its end."""
    if not OBSERVERS[done.take.observed_by].is_there:
        return ""
    said = tell_news(done.unkept, *done.told)
    if said:
        return said
    if done.archived is not None:
        number, athlete = done.archived
        return tr("kept in the history as take {number} of {athlete}", number=number, athlete=athlete)
    where = tr("kept in {path}", path=done.path) if done.path else tr("kept in memory alone")
    if cells(where) <= room:
        return where
    begin = tr("kept in {path}", path="…")
    end = where
    while cells(end) > room - cells(begin):
        end = end[1:]
    return begin + end


def _headline(head: str, session: PracticeState, width: int, palette: Palette) -> list[Text]:
    """Return the result in large letters; during a rest, the remaining time on the right."""
    left = draw_letters(head)
    right = draw_letters(tr("again {ceil}", ceil=math.ceil(session.left)) if session.stage is Stage.RESTING else "")
    if letters_width(head) + max(len(line) for line in right) + 8 > width:
        right = draw_letters(f"{math.ceil(session.left)}")
    wide = max(len(line) for line in right)
    rows = []
    for one, other in zip(left, right, strict=True):
        line = Text().append(f"  {one}", palette.strong)
        line.append(" " * max(width - line.cell_len - wide - 3, 1), palette.text)
        rows.append(line.append(f"{other:<{wide}}", palette.next))
    return rows


def _sections(card: Scorecard, width: int, palette: Palette) -> list[Text]:
    """Return one row a section of a run-through, the worst first: its place, drill and outcome."""
    order = worst_first(card.sections)
    said = max(cells(say_verdict(each)) for each in order) + 4
    details = max(cells(say_details(each)) for each in order) + 1
    wide = min(max(12, *(cells(tr(each.section.title)) for each in order)), max(width - 13 - said - details, 12))
    head = Text(
        f"  {pad(cut(tr('eights'), 7), 7)} {pad(tr('what is laid'), wide)}   {pad(tr('verdict'), said)}", palette.faint
    )
    styles = {SectionKind.LATE: palette.late, SectionKind.EARLY: palette.early, SectionKind.IN_TIME: palette.steady}
    rows = []
    for each in order:
        row = Text(f"  {say_eights(each.first_eight, each.last_eight):<7} ", palette.text)
        row.append(f"{pad(cut(tr(each.section.title), wide), wide)}  ", palette.text)
        verdict = f" {say_sign(each)} {say_verdict(each)} "
        row.append(verdict, styles.get(each.kind, palette.strong))
        row.append(" " * (said - cells(verdict) + 1))
        rows.append(row.append(say_details(each), palette.faint))
    return [head, *rows]


def _cycles(card: Scorecard, width: int, palette: Palette) -> list[Text]:
    """Return one row a cycle and hand, unrolled: ``|`` where a moment was asked, the hand's mark where it came.

    Those that broke come first.
    """
    if not card.cycles:
        return []
    wide = max(cells(tr("hand")), *(cells(tr(hand)) for hand in card.plan.hands))
    kinds = {flag.kind for cycle in card.cycles for flag in cycle.flags}
    words = max(_WORDS, cells(tr("not done")), *(cells(tr(FLAG_WORDS[kind])) for kind in kinds))
    columns = max(width - _BESIDE - wide - words, _LEAST_COLUMNS)
    where = pad(tr("cycle  place") if card.placed else tr("about"), 12)
    head = Text(
        f"  {where}  {pad(tr('hand'), wide)}  {pad(tr('asked |, came ●'), columns)}  {tr('length')}", palette.faint
    )
    in_order = sorted(card.cycles, key=lambda cycle: not cycle.flags)
    left_out, first = cycles_left_out(card), first_second(card)
    rows = []
    for cycle in in_order:
        where = f"{cycle.cycle + 1:>5}  {say_place(card, cycle.positions[0]):>5}"
        if not card.placed:
            where = tr("{time:>3.0f} s in", time=max(cycle.time - first, 0.0))
        rows.append(_cycle(card, cycle, f"  {pad(where, 12)}  {pad(tr(cycle.hand), wide)}  ", columns, words, palette))
        if cycle.cycle in left_out and not cycle.flags:
            rows[-1].append(f" {tr('not done')}", palette.faint)
    return [head, *rows]


def _cycle(card: Scorecard, cycle: CycleCard, where: str, columns: int, words: int, palette: Palette) -> Text:
    effect = card.plan.hands.index(cycle.hand)
    line = Text(where, palette.text)
    signs: list[tuple[str, str]] = [("·", palette.faint)] * columns
    span = _seconds_of(card, cycle)
    # at another tempo each cycle begins elsewhere: what can be seen is how it goes on
    begin = 0.0 if tells_lateness(card) else next((a for a in cycle.asynchronies if not math.isnan(a)), 0.0)
    for position, late in zip(cycle.positions, cycle.asynchronies, strict=True):
        into = (position - cycle.positions[0]) / card.plan.cycle_counts + 0.06
        asked = min(int(into * columns), columns - 1)
        signs[asked] = ("|", palette.text)
        if not math.isnan(late):
            came = min(max(int((into + (late - begin) / span) * columns), 0), columns - 1)
            signs[came] = (HAND_MARKS[min(effect, 2)], palette.hands[min(effect, 2)])
    append_signs(line, signs)
    length = "" if math.isnan(cycle.ratio) else f"{cycle.ratio * 100:>4.0f} %"
    line.append(f"  {length:<7}  ", palette.text)
    if cycle.flags:
        line.append(f" {say_kinds((tr(FLAG_WORDS[flag.kind]) for flag in cycle.flags), words)} ", palette.late)
    return line


def _seconds_of(card: Scorecard, cycle: CycleCard) -> float:
    """Return the asked seconds of a cycle."""
    if not math.isnan(cycle.ratio) and cycle.ratio > 0:
        return cycle.period / cycle.ratio
    known = [each.period / each.ratio for each in card.cycles if not math.isnan(each.ratio) and each.ratio > 0]
    return known[0] if known else 1.0


class LookScreen(CardScreen[None]):
    """The card of a take; Enter goes back.

    Parameters
    ----------
    path : Path
        Where it lies.
    """

    BINDINGS: ClassVar[list[BindingType]] = [*BACK, *scroll_keys("cycles"), HELP, LEAVE]
    help_name = "after the take"

    def __init__(self, take: Take, path: Path) -> None:
        super().__init__()
        self._take = take
        self._path = path
        self._done: FinishedTake | None = None

    def on_mount(self) -> None:
        """Judge the take beside the screen."""
        self.run_worker(self._judge())

    async def _judge(self) -> None:
        card = await to_thread(coach.judge_take, self._take)
        self._done = FinishedTake(self._take, card, self._path)
        self.draw()

    def draw_page(self, width: int, height: int) -> Page:
        """Return the card once it has been judged."""
        if self._done is None:
            return Page([Text(tr("  Judging the take …"), self._palette.text)])
        session, _ = begin(self._take.plan, stamp=0.0, hands=())
        return draw_after(
            [self._done],
            session,
            width=width,
            height=height,
            first_row=self._first_row,
            palette=self._palette,
            alone=tr("broken off"),
        )

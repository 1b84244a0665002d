"""The card after a take: one sentence, the measures, then the cycles; also of a take that is over already."""

from __future__ import annotations

import math
from asyncio import to_thread
from typing import TYPE_CHECKING, ClassVar, NamedTuple

from rich.text import Text

from tempo_coach import coach
from tempo_coach.coach.notices import tell as tell_news
from tempo_coach.coach.practising.practice import FinishedTake
from tempo_coach.languages import tr
from tempo_coach.live.practice.course import begin
from tempo_coach.live.practice.session import Stage
from tempo_coach.observe.observers import OBSERVERS
from tempo_coach.report.pages.pictures import say_part
from tempo_coach.report.words.amounts import join_words, several
from tempo_coach.report.words.card import say_kinds
from tempo_coach.report.words.circle_sizes import tell_sizes
from tempo_coach.report.words.live import say_rule, say_step
from tempo_coach.report.words.moments import FLAG_WORDS
from tempo_coach.report.words.observers import say_observer
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
from tempo_coach.report.words.sentence import tell
from tempo_coach.score.measures.steadiness import compare_takes, measure_scatter
from tempo_coach.score.section_cards import SectionKind, worst_first
from tempo_coach.signs import columns as cells
from tempo_coach.signs import cut, pad, wrap
from tempo_coach.ui.glyphs import draw_letters, letters_width
from tempo_coach.ui.palette import HAND_MARKS, Palette
from tempo_coach.ui.screen import BACK, HELP, LEAVE, CardScreen, Page, scroll_keys
from tempo_coach.ui.text_rows import HIGH, append_signs, bar, fill

if TYPE_CHECKING:
    from pathlib import Path

    from textual.binding import BindingType

    from tempo_coach.coach.practising.practice import EarlierTakes
    from tempo_coach.live.practice.session import PracticeState
    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.score.card import Scorecard
    from tempo_coach.score.scorecard import CycleCard

#: Least seconds by which one circle has to stand apart from the others to be named.
APART = 0.010
#: Columns of a row of cycles that are not the cycle.
_BESIDE = 46
#: Columns of what broke in it.
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
    for name, value in found.items():
        for k, row in enumerate(wrap(value, width - 12)):
            lines.append(Text(f"  {pad('' if k else cut(tr(name), 7), 8)}", palette.faint).append(row, palette.text))
    for k, row in enumerate(wrap(say, width - 12)):
        lines.append(Text(f"  {pad('' if k else cut(tr('say'), 7), 8)}", palette.faint).append(row, palette.strong))
    if session.way.steps is not None:
        lines.append(
            Text(f"  {pad(cut(tr('tempo'), 7), 8)}", palette.faint).append(say_step(session.tempo_step), palette.text)
        )
        told = (
            f"{say_rule(session.way.steps)} {say_what_is_steady()}"
            if height >= HIGH - 1
            else say_rule(session.way.steps)
        )
        rule = wrap(told, width - 12)
        lines += [
            Text(f"  {pad('' if k else cut(tr('rule'), 7), 8)}{row}", palette.faint) for k, row in enumerate(rule)
        ]
    if session.tempo_asked is not None:
        lines.append(
            Text(f"  {pad(cut(tr('next'), 7), 8)}", palette.faint).append(
                tr("at {tempo}", tempo=say_tempo(session.tempo_asked)), palette.strong
            )
        )
    style = palette.warning if last.told or last.unkept else palette.faint
    for k, row in enumerate(_where(last, width - 12)):
        lines.append(Text(f"  {pad('' if k else cut(tr('take'), 7), 8)}", palette.faint).append(row, style))
    lines.append(Text())
    if nothing or not tells_figures(card):
        table = []
    elif card.sections:
        table = _sections(card, width, palette)
    else:
        table = _cycles(card, max(width - _BESIDE, _LEAST_COLUMNS), palette)
    columns, cycles, room = table[:1], table[1:], height - len(lines) - 1
    if room < 1:
        return Page(fill(lines, width, height, palette))
    first = max(0, min(first_row, len(cycles) - room))
    rows = [*lines, *columns, *cycles[first : first + room]]
    return Page(fill(rows, width, height, palette), first, len(cycles[first + room :]))


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


def _where(done: FinishedTake, room: int) -> list[str]:
    """Return where a take is kept, or what is known of it; a long path is cut to its end."""
    if not OBSERVERS[done.take.observed_by].is_there:
        return []
    said = tell_news(done.unkept, *done.told)
    if said:
        return wrap(said, room)
    where = tr("kept in {path}", path=done.path) if done.path else tr("kept in memory alone")
    if cells(where) <= room:
        return [where]
    begin = tr("kept in {path}", path="…")
    end = where
    while cells(end) > room - cells(begin):
        end = end[1:]
    return [begin + end]


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


def _cycles(card: Scorecard, columns: int, palette: Palette) -> list[Text]:
    """Return one row a cycle and hand, unrolled: ``|`` where a moment was asked, the hand's mark where it came.

    Those that broke come first.
    """
    if not card.cycles:
        return []
    wide = max(cells(tr("hand")), *(cells(tr(hand)) for hand in card.plan.hands))
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
        rows.append(_cycle(card, cycle, f"  {pad(where, 12)}  {pad(tr(cycle.hand), wide)}  ", columns, palette))
        if cycle.cycle in left_out and not cycle.flags:
            rows[-1].append(f" {tr('not done')}", palette.faint)
    return [head, *rows]


def _cycle(card: Scorecard, cycle: CycleCard, where: str, columns: int, palette: Palette) -> Text:
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
        line.append(f" {say_kinds((tr(FLAG_WORDS[flag.kind]) for flag in cycle.flags), _WORDS)} ", palette.late)
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

"""The history in words: a list of takes, one take, and how it goes on, as text of at most 80 columns."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import asdict
from typing import TYPE_CHECKING

from tempo_coach.history.columns import LISTED, TakeRow
from tempo_coach.history.progress import (
    LEAST_NIGHTS,
    LEVEL_DAYS,
    find_sessions,
    measure_progress,
    measure_retention,
)
from tempo_coach.history.steady_tempo import find_steady_tempo
from tempo_coach.languages import in_english, tr, tr_n
from tempo_coach.report.words.amounts import begin, say_decimal, several
from tempo_coach.report.words.card import format_card
from tempo_coach.report.words.measures import ENTRIES, WORDS
from tempo_coach.report.words.observers import say_observer
from tempo_coach.report.words.places import say_what_is_steady
from tempo_coach.report.words.reasons import say_reason
from tempo_coach.signs import cell, cut, pad, wrap

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.history.forget import Going
    from tempo_coach.history.progress import Retention, Trend
    from tempo_coach.history.records import Athlete, Kept
    from tempo_coach.history.steady_tempo import SteadyTempo
    from tempo_coach.score.scorecard import Scorecard

WIDTH = 80
#: What is told of the way it goes on: measure, what a coach calls it, unit; the distance from the beat after spread.
TOLD = tuple((key, WORDS[key].course, ENTRIES[key].unit) for key in ("spread_ms", "bias_ms", "period_cv_pct"))
_BARS = "▁▂▃▄▅▆▇█"
_COLUMNS = "  take  begun             drill              tempo  early/late  spread  flagged"


def format_rows(rows: Sequence[TakeRow], *, all_takes: int) -> str:
    """Return takes as a table, one line a take, the newest last."""
    if not rows:
        return tr("No take is like that.") if all_takes else tr("No take is kept yet.")
    several = len({row.athlete for row in rows}) > 1
    lines: list[str] = []
    athlete = None
    for row in rows:
        if row.athlete != athlete:
            athlete = row.athlete
            lines += ["", *wrap(athlete, WIDTH)] if lines or several else wrap(athlete, WIDTH)
            lines.append(tr(_COLUMNS))
        drill = pad(cut(row.drill, 17), 17)
        steady = "=" if row.steady else " "
        spread = _number(row.spread_ms, ".0f", " ms")
        line = (
            f"{row.number:>6}  {row.begun[:16].replace('T', ' ')}  {drill}  {row.tempo_bpm:>4.0f} {steady}"
            f" {_number(row.bias_ms, '+.0f', ' ms'):>9}  {spread:>7}  {row.flagged or ''}"
        )
        if row.reason:
            line = f"{line.rstrip()} ×"
        lines.append(line.rstrip())
    uncounted = any(row.reason for row in rows)
    lines += [
        "",
        *_wrap(
            tr(
                "{number} of {all_takes} takes; = marks those that were steady, × those that do not count. "
                "{steady_in_words}"
                if uncounted
                else "{number} of {all_takes} takes; = marks those that were steady. {steady_in_words}",
                number=len(rows),
                all_takes=all_takes,
                steady_in_words=say_what_is_steady(),
            )
        ),
    ]
    return "\n".join(lines)


def rows_to_csv(rows: Sequence[TakeRow]) -> str:
    """Return takes as a table for other programs."""
    text = io.StringIO()
    writer = csv.DictWriter(text, list(LISTED), lineterminator="\n")
    writer.writeheader()
    for row in rows:
        values = row.to_dict()
        writer.writerow({name: cell(value) if isinstance(value, str) else value for name, value in values.items()})
    return text.getvalue()


def format_athletes(athletes: Sequence[Athlete]) -> str:
    """Return who is in the history."""
    if not athletes:
        return tr("Nobody is in the history yet.")
    lines = []
    for athlete in athletes:
        span = (
            tr("{first} to {last}", first=athlete.first[:10], last=athlete.last[:10])
            if athlete.takes
            else tr("none yet")
        )
        lines += _wrap(tr("{name}: {said}", name=athlete.name, said=f"{several(athlete.takes, 'take')}, {span}"))
    return "\n".join(lines)


def format_kept(kept: Kept, card: Scorecard) -> str:
    """Return one take: its place in the history, its notes, its scorecard."""
    row = kept.row
    begun, observer = row.begun[:16].replace("T", " "), say_observer(row.observed_by)
    head = tr(
        "Take {number}, {athlete}, {begun}, observed by {observer}",
        number=row.number,
        athlete=row.athlete,
        begun=begun,
        observer=observer,
    )
    lines = wrap(head, WIDTH, subsequent_indent="  ")
    if row.routine:
        lines += wrap(tr("Routine: {routine}", routine=row.routine), WIDTH, subsequent_indent="  ")
    if kept.older:
        lines.append(
            tr_n(
                "Scored again on {made}; {number} older scorecard is kept.",
                "Scored again on {made}; {number} older scorecards are kept.",
                kept.older,
                made=kept.made[:10],
            )
        )
    if row.reason:
        lines += wrap(tr("It does not count: {reason}", reason=row.reason), WIDTH, subsequent_indent="  ")
    for note in kept.notes:
        lines += wrap(
            tr("Note of {written}: {text}", written=note.written[:10], text=note.text), WIDTH, subsequent_indent="  "
        )
    return "\n".join([*lines, "", format_card(card)])


def kept_to_dict(kept: Kept) -> dict[str, object]:
    """Return one take as plain values, with its scorecard as it was kept."""
    onsets = kept.take.onsets
    return {
        **kept.row.to_dict(),
        "made": kept.made,
        "notes": [note._asdict() for note in kept.notes],
        "setup": kept.setup,
        "onsets": [{"time": time, "hand": hand} for time, hand in zip(onsets.time.tolist(), onsets.hand, strict=True)],
        "scorecard": kept.card,
    }


def going_to_dict(going: Going) -> dict[str, object]:
    """Return what would be removed with an athlete as plain values."""
    values = asdict(going)
    return {**values, "files": [str(file) for file in going.files], "copies": [str(copy) for copy in going.copies]}


def format_progress(rows: Sequence[TakeRow]) -> str:
    """Return the course of one athlete's takes of a drill: trend, retention, dose, highest steady tempo."""
    sessions = find_sessions(rows)
    lines = [
        *wrap(tr("{name}: {said}", name=rows[0].athlete, said=tr(rows[0].title)), WIDTH),
        tr(
            "{takes} in {sessions}, {day} to {day_2}",
            takes=several(len(rows), "take"),
            sessions=several(len(sessions), "session"),
            day=rows[0].day,
            day_2=rows[-1].day,
        ),
    ]
    for measure, name, unit in TOLD:
        progress = measure_progress(rows, measure=measure)
        lines += ["", *_wrap(tell_progress(progress, name, unit))]
        if len(progress.points) > 1:
            lines.append(f"  {spark([p.value for p in progress.points], WIDTH - 2)}")
    lines += ["", *_wrap(tell_retention(measure_retention(rows)))]
    lines += ["", *_wrap(tell_tempo(find_steady_tempo(rows)))]
    last = sessions[-1]
    lines += [
        "",
        *_wrap(
            tr(
                "Last session, {begun}: {takes}, {minutes}, {cycles}, {moments}; steady takes: {steady}.",
                begun=last.begun[:10],
                takes=several(last.takes, "take"),
                minutes=several(round(last.seconds / 60), "minute"),
                cycles=several(last.cycles, "cycle"),
                moments=several(last.moments, "moment"),
                steady=last.steady,
            )
        ),
        "",
        *_wrap(say_what_is_steady()),
    ]
    return "\n".join(lines)


@in_english
def progress_to_dict(rows: Sequence[TakeRow]) -> dict[str, object]:
    """Return the same as plain values."""
    tempo, retention = find_steady_tempo(rows), measure_retention(rows)
    return {
        "athlete": rows[0].athlete,
        "drill": rows[0].drill,
        "progress": [
            {**progress.to_dict(), "reason": say_reason(progress.reason) or None}
            for progress in (measure_progress(rows, measure=measure) for measure, _, _ in TOLD)
        ],
        "retention": {
            "ratio": None if math.isnan(retention.ratio) else retention.ratio,
            "ci95": None if math.isnan(retention.low) else [retention.low, retention.high],
            "reason": say_reason(retention.reason) or None,
            "nights": [night._asdict() for night in retention.nights],
        },
        "steady_tempo": {
            "bpm": None if math.isnan(tempo.bpm) else tempo.bpm,
            "ci95": None if math.isnan(tempo.low) else [tempo.low, tempo.high],
            "reason": say_reason(tempo.reason) or None,
            "tempi": [
                {"bpm": bpm, "takes": takes, "steady": share, "smoothed": smooth}
                for bpm, takes, share, smooth in tempo.shares
            ],
        },
        "sessions": [session._asdict() for session in find_sessions(rows)],
    }


def tell_progress(progress: Trend, name: str, unit: str) -> str:
    """Return her level and its change as a sentence that claims no more than the intervals."""
    if math.isnan(progress.level):
        return tr("{name}: {said}.", name=begin(tr(name)), said=say_reason(progress.reason))
    days = min(len(progress.points), LEVEL_DAYS)
    middle = tr(
        "one day"
        if days == 1
        else "middle of her last {days} days"
        if math.isnan(progress.low)
        else "middle of her last {days} days, between {low:.1f} and {high:.1f}",
        days=days,
        low=progress.low,
        high=progress.high,
    )
    level = f"{begin(tr(name))} {say_decimal(progress.level, '.1f')} {unit} ({middle})"
    if math.isnan(progress.ratio):
        return f"{level}; {say_reason(progress.reason)}."
    if not progress.beyond_chance:
        return tr("{level}: no change beyond chance in her last {days} days.", level=level, days=progress.days)
    ends = sorted(abs(100 * (ratio - 1)) for ratio in (progress.ratio_low, progress.ratio_high))
    return tr(
        "{level} and getting smaller: by {ratio:.0f} % over her last {days} days (98 %: {end:.0f} to {end_2:.0f} %)."
        if progress.ratio < 1
        else "{level} and growing: by {ratio:.0f} % over her last {days} days (98 %: {end:.0f} to {end_2:.0f} %).",
        level=level,
        ratio=abs(100 * (progress.ratio - 1)),
        days=progress.days,
        end=ends[0],
        end_2=ends[1],
    )


def tell_retention(retention: Retention) -> str:
    """Return the overnight retention as a sentence."""
    if math.isnan(retention.ratio):
        return tr("Kept overnight: {reason}.", reason=say_reason(retention.reason))
    last = retention.nights[-1]
    nights = tr("one night") if len(retention.nights) == 1 else tr("{number} nights", number=len(retention.nights))
    said = tr(
        "middle of {nights}; too few to tell it from chance: {least_nights} are needed"
        if math.isnan(retention.low)
        else "middle of {nights}, between {low:.2f} and {high:.2f}: no more than chance"
        if retention.low <= 1 <= retention.high
        else "middle of {nights}, between {low:.2f} and {high:.2f}",
        nights=nights,
        least_nights=LEAST_NIGHTS,
        low=retention.low,
        high=retention.high,
    )
    then = tr(
        "without cues, {before_ms:.0f} ms, then {after_ms:.0f} ms"
        if last.without_cues
        else "{before_ms:.0f} ms, then {after_ms:.0f} ms",
        before_ms=last.before_ms,
        after_ms=last.after_ms,
    )
    return tr(
        "Kept overnight: the first take of a day has {ratio:.2f} times the spread of the last one of the day "
        "before ({said}; {to_day}: {then}).",
        ratio=retention.ratio,
        said=said,
        to_day=last.to_day,
        then=then,
    )


def tell_tempo(tempo: SteadyTempo) -> str:
    """Return the highest steady tempo as a sentence."""
    if math.isnan(tempo.bpm):
        return tr("The tempo up to which four takes of five are steady: {reason}.", reason=say_reason(tempo.reason))
    tried = [bpm for bpm, *_ in tempo.shares]
    low = tr("{tempo:.0f} or less" if tempo.low <= tried[0] else "{tempo:.0f}", tempo=tempo.low)
    high = tr("{tempo:.0f} or more" if tempo.high >= tried[-1] else "{tempo:.0f}", tempo=tempo.high)
    return tr(
        "Four takes of five are steady up to {bpm:.0f} beats a minute (95 %: between {low} and {high}).",
        bpm=tempo.bpm,
        low=low,
        high=high,
    )


def format_going(going: Going) -> str:
    """Return what would be removed with an athlete."""
    lines = _wrap(tr("All of {athlete} would be removed for good:", athlete=going.athlete))
    lines += [
        tr(
            "  {takes} with {onsets}, {first} to {last}" if going.takes else "  {takes} with {onsets}",
            takes=several(going.takes, "take"),
            onsets=several(going.onsets, "onset"),
            first=going.first[:10],
            last=going.last[:10],
        ),
        f"  {several(going.cards, 'scorecard')}",
        f"  {several(going.notes, 'note')}",
    ]
    lines += [tr("  the file {file}", file=file) for file in going.files]
    lines += [tr("  what the copy {copy} holds of her", copy=copy) for copy in going.copies]
    lines += _wrap(tr("Backups that you made, and files that you exported, stay where you put them."))
    return "\n".join(lines)


def spark(values: Sequence[float], width: int) -> str:
    """Return values as a row of bars of eight heights, from 0 to the largest; only the last ones of many."""
    shown = [value for value in values if not math.isnan(value)][-width:]
    most = max(shown, default=0.0)
    return "".join(_BARS[min(int(value / most * 8), 7) if most > 0 else 0] for value in shown)


def _wrap(text: str) -> list[str]:
    return wrap(text, WIDTH, subsequent_indent="  ")


def _number(value: float, form: str, unit: str) -> str:
    return "" if math.isnan(value) else say_decimal(value, form) + unit

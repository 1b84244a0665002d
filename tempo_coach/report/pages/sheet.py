"""The count sheet as one HTML page without anything from elsewhere, made to be printed on A4."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.pattern.routine.routine import say_clock
from tempo_coach.report.words.sheet import SIGNS, moments_of
from tempo_coach.signs import escape

if TYPE_CHECKING:
    from tempo_coach.report.words.sheet import HandRow, Sheet, SheetRow

#: Counts across the page: an eight of more begins a second line.
ACROSS = 8
_STYLE = """
@page { size: A4 portrait; margin: 12mm 11mm 14mm }
* { box-sizing: border-box }
body { font: 9.5pt/1.3 "Liberation Sans", Arial, Helvetica, sans-serif; color: #1d1b18; background: #fff;
  max-width: 188mm; margin: 6mm auto; padding: 0 2mm }
h1 { font-size: 16pt; margin: 0 0 1mm }
.about { margin: 0 0 3mm; color: #55504a }
table { width: 100%; border-collapse: collapse; table-layout: fixed }
thead { display: table-header-group }
th { font-weight: normal; font-size: 8pt; color: #55504a; text-align: left; border-bottom: 0.5mm solid #1d1b18;
  padding: 0 1mm 0.5mm }
td { vertical-align: top; padding: 1.2mm 1mm 1.4mm; border-bottom: 0.2mm solid #bdb6a6 }
tr { break-inside: avoid }
.n { width: 10mm } .t { width: 20mm } .c { width: 112mm } td.c, th.c { padding-left: 17mm }
td.n { font-size: 12pt; font-weight: bold }
.t b { font-weight: normal; display: block; color: #55504a; white-space: nowrap }
.counts { position: relative; display: grid; grid-template-columns: repeat(8, 1fr) }
.counts span { border-left: 0.25mm solid #bdb6a6; padding-left: 0.8mm; color: #55504a; font-size: 8.5pt }
.counts span.one { border-left: 0.7mm solid #1d1b18; color: #1d1b18; font-weight: bold }
.line { position: relative; height: 4.6mm }
.line i { position: absolute; font-style: normal; white-space: nowrap; line-height: 4.6mm }
.line .sign { transform: translateX(-20%); font-size: 10pt }
.line .wide { border-bottom: 0.8mm dotted #1d1b18; height: 2.6mm }
.line .wait { border-left: 1.1mm double #1d1b18; padding-left: 1mm; font-size: 8pt; z-index: 1; background: #fff }
.line b { position: absolute; right: 100%; padding-right: 2mm; font-weight: normal; font-size: 8pt; line-height: 4.6mm;
  color: #55504a; white-space: nowrap }
.say { font-size: 8.5pt } .say b { font-weight: bold } .say div { margin-bottom: 0.4mm }
.legend { font-size: 8.5pt; margin-top: 4mm; break-inside: avoid } .legend p { margin: 0 0 1mm }
@media screen { body { padding: 4mm } }
"""


def sheet_page(sheet: Sheet) -> str:
    """Return the sheet as an HTML page."""
    rows = "\n".join(_row(row) for row in sheet.rows)
    legend = "".join(f"<p><b>{escape(drill.title)}</b>: {escape(moments_of(drill))}</p>" for drill in sheet.drills)
    notes = f'<p class="about">{escape(sheet.notes)}</p>' if sheet.notes else ""
    return (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n<title>{escape(sheet.title)}</title>\n'
        f"<style>{_STYLE}</style>\n</head>\n<body>\n<h1>{escape(sheet.title)}</h1>\n"
        f'<p class="about">{escape(sheet.about)}</p>\n{notes}\n<table>\n'
        '<thead><tr><th class="n">eight</th><th class="t">time, tempo</th><th class="c">counts and hands</th>'
        "<th>what else</th></tr></thead>\n"
        f'<tbody>\n{rows}\n</tbody>\n</table>\n<div class="legend">{legend}</div>\n</body>\n</html>\n'
    )


def _row(row: SheetRow) -> str:
    change = {"slower": " ↓ slower", "faster": " ↑ faster"}.get(row.change, "")
    return (
        f'<tr><td class="n">{row.number}</td>'
        f'<td class="t">{say_clock(row.start)}<b>{row.tempo_bpm:.0f}{change}</b></td>'
        f'<td class="c">{_counts(row)}</td><td class="say">{_said(row)}</td></tr>'
    )


def _counts(row: SheetRow) -> str:
    """Every count in its column, ``ACROSS`` to a line, and under each line what the hands do on it."""
    length = len(row.lengths)
    parts = []
    for begin in range(0, length, ACROSS):
        end = min(begin + ACROSS, length)
        numbers = "".join(f"<span{' class=one' if k == 0 else ''}>{k + 1}</span>" for k in range(begin, end))
        parts.append(f'<div class="counts">{numbers}</div>')
        parts += [_stretch(first, last, begin, end) for first, last, _ in row.steps if first < end and last > begin]
        parts += [_hand(hand, begin, end) for hand in row.hands]
        waits = [(at, seconds) for at, seconds in row.pauses if begin < at <= end or at == begin == 0]
        parts += [
            f'<div class="line"><i class="wait" style="left:{_left(min(at, end - 0.9), begin)}">'
            f"pause {seconds:.1f} s after {at:g}</i></div>"
            for at, seconds in waits
        ]
    return "".join(parts)


def _hand(hand: HandRow, begin: int, end: int) -> str:
    sign = SIGNS[min(hand.order, 2)]
    marks = "".join(
        f'<i class="sign" style="left:{_left(mark.at, begin)}" title="{escape(mark.label)}">{sign}</i>'
        for mark in hand.marks
        if begin <= mark.at < end
    )
    return f'<div class="line"><b>{escape(f"{sign} {hand.hand}")}</b>{marks}</div>'


def _stretch(first: float, last: float, begin: int, end: int) -> str:
    first, last = max(first, begin), min(last, end)
    wide = f"left:{_left(first, begin)};width:{(last - first) / ACROSS * 100:.2f}%"
    return f'<div class="line"><i class="wide" style="{wide}"></i></div>'


def _left(at: float, begin: int) -> str:
    return f"{(at - begin) / ACROSS * 100:.2f}%"


def _said(row: SheetRow) -> str:
    told = [(at, say_count(at), text) for at, text in row.events]
    told += [(at, say_count(at), "first movement") for at in [row.first] if at is not None]
    told += [(at, say_count(at), "last movement") for at in [row.last] if at is not None]
    told += [(at, say_count(at), "dance steps") for at, _, begins in row.steps if begins]
    titles = dict.fromkeys((hand.drill, hand.at) for hand in row.hands if hand.begins)
    told += [(at, say_count(at), title) for title, at in titles]
    lines = [f"<div><b>{escape(count)}</b> {escape(text)}</div>" for _, count, text in sorted(told)]
    lines += [f"<div>{escape(remark)}</div>" for remark in row.remarks]
    return "".join(lines)

"""One self-contained HTML page: its frame, its style, and figures with a table behind each picture.

Nothing is loaded from anywhere and nothing in it runs. It follows the reader's choice of light or dark, and prints on
A4 in light.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from tempo_coach.signs import escape

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

#: Rows of a table behind a picture, at most; a long take is in the JSON.
MOST_ROWS = 400

STYLE = """
:root { color-scheme: light dark; --page: #fbfaf7; --card: #ffffff; --ink: #1c1b19; --soft: #5d5951; --line: #d9d5cb;
  --good: #dfeee6; --silent: #eceae4; --thin: #f5f3ee; --h0: #0072b2; --h1: #c04e00; --h2: #a8447f; --warn: #b02a00 }
@media (prefers-color-scheme: dark) { :root { --page: #14161a; --card: #1c1f25; --ink: #ece9e2; --soft: #a9a59c;
  --line: #3a3e47; --good: #1e3a31; --silent: #2b2f38; --thin: #23262d; --h0: #6cb8ec; --h1: #f0a04b; --h2: #e59ac3;
  --warn: #ff9e7a } }
* { box-sizing: border-box }
body { margin: 0; background: var(--page); color: var(--ink);
  font: 16px/1.5 system-ui, -apple-system, "Segoe UI", Roboto, "Liberation Sans", Arial, sans-serif }
main { max-width: 74rem; margin: 0 auto; padding: 1.25rem 1rem 3rem }
h1 { font-size: 1.6rem; line-height: 1.2; margin: 0 0 .2rem; overflow-wrap: anywhere }
h2 { font-size: 1.15rem; margin: 2rem 0 .6rem }
.about { color: var(--soft); margin: 0; overflow-wrap: anywhere }
.say { font-size: 1.3rem; line-height: 1.35; margin: 1.2rem 0; padding: .9rem 1.1rem; background: var(--card);
  border-left: .35rem solid var(--h0); border-radius: .3rem; overflow-wrap: anywhere }
.numbers { display: grid; grid-template-columns: repeat(auto-fit, minmax(9.5rem, 1fr)); gap: .7rem; margin: 0 }
.numbers div { background: var(--card); border: 1px solid var(--line); border-radius: .4rem; padding: .6rem .8rem }
.numbers dt { color: var(--soft); font-size: .85rem }
.numbers dd { margin: 0; font-size: 1.35rem; font-variant-numeric: tabular-nums }
.numbers dd small { display: block; font-size: .8rem; line-height: 1.3; color: var(--soft) }
.figures { display: grid; grid-template-columns: repeat(auto-fit, minmax(min(100%, 28rem), 1fr)); gap: 1rem;
  align-items: start; margin-top: 1rem }
figure { margin: 0; background: var(--card); border: 1px solid var(--line); border-radius: .4rem; padding: .9rem;
  min-width: 0 }
figure h3 { margin: 0; font-size: 1rem }
figcaption { color: var(--soft); font-size: .9rem; margin: 0 0 .5rem }
svg { display: block; width: 100%; max-width: 40rem; height: auto; margin: 0 auto }
svg.dial-picture { max-width: 24rem }
details { margin-top: .5rem; font-size: .88rem }
summary { cursor: pointer; color: var(--soft) }
.scroll { overflow-x: auto }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums }
th, td { text-align: right; padding: .2rem .5rem; border-bottom: 1px solid var(--line); vertical-align: top }
th { font-weight: 600; color: var(--soft) }
th:first-child, td:first-child, .words { text-align: left }
ul { padding-left: 1.2rem; margin: .4rem 0 }
.small { color: var(--soft); font-size: .85rem }
.legend + .figures, h2 + .figures { margin-top: .5rem }
.legend { display: flex; flex-wrap: wrap; gap: .2rem 1.1rem; list-style: none; padding: 0; margin: .8rem 0 0;
  font-size: .88rem; color: var(--soft) }
.legend svg { display: inline-block; width: .9rem; height: .9rem; margin: 0 .3rem -.1rem 0 }
text { font-size: 14px; fill: var(--soft) }
text.name { fill: var(--ink) }
text.strong { fill: var(--ink); font-weight: 600 }
.grid, .tick { stroke: var(--line); stroke-width: 1 }
.zero { stroke: var(--soft); stroke-width: 1.5 }
.good { fill: var(--good) } .silent { fill: var(--silent) } .thinned { fill: var(--thin) }
.dial { fill: none; stroke: var(--line); stroke-width: 2 }
.asked { fill: none; stroke: var(--ink); stroke-width: 1.5 }
.ring { fill: none; stroke: var(--warn); stroke-width: 2 }
.cross { fill: none; stroke: var(--warn); stroke-width: 2 }
.jump { stroke: var(--warn); stroke-width: 1.5; stroke-dasharray: 2 4 }
.mean { fill: none; stroke: var(--ink); stroke-width: 1.2; stroke-dasharray: 6 4 }
.diagonal { fill: none; stroke: var(--soft); stroke-dasharray: 3 4 }
.h0 { fill: var(--h0) } .h1 { fill: var(--h1) } .h2 { fill: var(--h2) }
.l0, .l1, .l2 { fill: none; stroke-width: 1.5; stroke-opacity: .6 } .l0 { stroke: var(--h0) }
.l1 { stroke: var(--h1) } .l2 { stroke: var(--h2) } .arc { stroke-width: 5; stroke-opacity: .45 }
.fit { fill: none; stroke: var(--ink); stroke-width: 2 } .between { fill: var(--h0); fill-opacity: .16 }
.bar { fill: var(--h0) } .bar.rest { fill: var(--h0); fill-opacity: .35 }
@media screen and (max-width: 32rem) { text { font-size: 16px } }
@page { size: A4; margin: 14mm 12mm }
@media print {
  :root { --page: #fff; --card: #fff; --ink: #1c1b19; --soft: #5d5951; --line: #d9d5cb; --good: #dfeee6;
    --silent: #eceae4; --thin: #f5f3ee; --h0: #0072b2; --h1: #c04e00; --h2: #a8447f; --warn: #b02a00 }
  * { print-color-adjust: exact; -webkit-print-color-adjust: exact }
  body { font-size: 10pt } main { padding: 0; max-width: none } h1 { font-size: 16pt } .say { font-size: 12.5pt }
  .figures { grid-template-columns: 1fr 1fr; gap: 4mm; margin-top: 3mm } figure { padding: 2.5mm }
  figure, .numbers div, .say, tr { break-inside: avoid } figcaption { font-size: 8.5pt; line-height: 1.3 }
  .numbers { grid-template-columns: repeat(auto-fit, minmax(28mm, 1fr)); gap: 2mm } .numbers dd { font-size: 12pt }
  .numbers div { padding: 1.5mm 2mm } svg.dial-picture { max-width: 58mm }
  h2 { break-after: avoid; margin: 6mm 0 2mm }
  details:not([open]) { display: none }
  @supports selector(::details-content) {
    details:not([open]) { display: block } details::details-content { content-visibility: visible; block-size: auto }
    figure { break-inside: auto } figure > h3, figcaption { break-after: avoid } svg { break-inside: avoid }
    details { font-size: 7pt; line-height: 1.25 } summary { list-style: none; break-after: avoid }
    th, td { padding: .3mm 1mm } .scroll { overflow: visible } thead { display: table-header-group }
  }
}
"""


class Table(NamedTuple):
    """What stands behind a picture: names of the columns, and rows of words."""

    names: Sequence[str]
    rows: Sequence[Sequence[str]]


class Figure(NamedTuple):
    """A picture with its name, a sentence on how to read it, and the table behind it."""

    name: str
    reading: str
    svg: str
    table: Table


def make_page(title: str, about: Iterable[str], body: Iterable[str]) -> str:
    """Return a whole page.

    Parameters
    ----------
    title : str
    about : iterable of str
        Lines under the title; empty ones are left out.
    body : iterable of str
        HTML.
    """
    lines = "".join(f'<p class="about">{escape(line)}</p>\n' for line in about if line)
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<main>\n"
        f"<h1>{escape(title)}</h1>\n{lines}{''.join(body)}</main>\n</body>\n</html>\n"
    )


def say(sentence: str) -> str:
    """Return the one sentence of the page."""
    return f'<p class="say">{escape(sentence)}</p>\n'


def numbers(values: Iterable[tuple[str, str, str]]) -> str:
    """Return figures side by side: name, value, and what stands under it."""
    cells = "".join(
        f"<div><dt>{escape(name)}</dt><dd>{escape(value)}<small>{escape(under)}</small></dd></div>\n"
        for name, value, under in values
    )
    return f'<dl class="numbers">\n{cells}</dl>\n'


def figures(all_of: Iterable[Figure], *, name: str = "") -> str:
    """Return figures side by side where there is room; those without a picture are left out."""
    drawn = "".join(_figure(figure) for figure in all_of if figure.svg)
    head = f"<h2>{escape(name)}</h2>\n" if name and drawn else ""
    return f'{head}<div class="figures">\n{drawn}</div>\n' if drawn else ""


def items(name: str, lines: Sequence[str], *, small: bool = False) -> str:
    """Return a list under a name; nothing without lines."""
    if not lines:
        return ""
    css = ' class="small"' if small else ""
    return f"<h2>{escape(name)}</h2>\n<ul{css}>" + "".join(f"<li>{escape(line)}</li>\n" for line in lines) + "</ul>\n"


def table(content: Table) -> str:
    """Return a table; a long one is cut and says so."""
    head = "".join(f"<th>{escape(name)}</th>" for name in content.names)
    rows = "\n".join(
        "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in content.rows[:MOST_ROWS]
    )
    more = len(content.rows) - MOST_ROWS
    rest = f'<p class="small">{more} more rows are in the JSON.</p>' if more > 0 else ""
    return f'<div class="scroll"><table><thead><tr>{head}</tr></thead><tbody>\n{rows}\n</tbody></table></div>{rest}\n'


def legend(hands: Sequence[str]) -> str:
    """Return which mark is which hand's; nothing with one hand."""
    from tempo_coach.report.pages.plot import shape

    if len(hands) < 2:
        return ""
    marks = "".join(
        f'<li><svg viewBox="0 0 12 12" aria-hidden="true">{shape(6, 6, k)}</svg>{escape(hand)}</li>'
        for k, hand in enumerate(hands)
    )
    return f'<ul class="legend">{marks}</ul>\n'


def _figure(figure: Figure) -> str:
    return (
        f"<figure>\n<h3>{escape(figure.name)}</h3>\n<figcaption>{escape(figure.reading)}</figcaption>\n{figure.svg}\n"
        f"<details><summary>Numbers</summary>\n{table(figure.table)}</details>\n</figure>\n"
    )

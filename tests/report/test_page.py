"""Pages: whole, self-contained, readable by programs, and true to the numbers behind them."""

import re
import shutil
import subprocess
from html.parser import HTMLParser
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from tempo_coach.errors import CoachError
from tempo_coach.history.progress import measure_trend
from tempo_coach.history.records import Note
from tempo_coach.observe.onsets import Onsets, Take
from tempo_coach.report import pdf
from tempo_coach.report.athlete_page import athlete_page, draw_trend
from tempo_coach.report.group_page import group_page
from tempo_coach.report.pictures import draw_asynchrony, draw_periods, draw_places, find_places
from tempo_coach.report.plot import make_picture, room, ticks
from tempo_coach.report.take_page import take_page
from tempo_coach.score.card import judge
from tempo_coach.score.group import judge_group, judge_mix
from tests.conftest import skip_for_missing_part
from tests.history.season import lay, make_take, row

EVIL = '<script>alert("x")</script> & "Zoë" 🤸'
VOID = {"meta", "br", "hr", "img", "link", "input"}


class Reader(HTMLParser):
    """Checks that every tag is closed where it should be, and collects what the page is made of."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.words: list[str] = []

    def handle_starttag(self, tag, attrs):
        self.seen.append(tag)
        self.attributes += attrs
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.seen.append(tag)
        self.attributes += attrs

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.words.append(data)


def read(page):
    reader = Reader()
    reader.feed(page)
    reader.close()
    assert not reader.open
    return reader


def check(page):
    reader = read(page)
    assert page.startswith("<!doctype html>")
    assert not {"script", "link", "img", "iframe", "object"} & set(reader.seen)
    names = {name for name, _ in reader.attributes}
    assert not {"src", "href", "style"} & names
    assert not any(name.startswith("on") for name in names)
    assert "url(" not in page and "@import" not in page and "http" not in page
    assert reader.seen.count("figure") == reader.seen.count("table") == reader.seen.count("details")
    assert not re.search(r"\b(nan|inf|None)\b", page)
    for svg in re.findall(r"<svg.*?</svg>", page, re.DOTALL):
        ET.fromstring(svg)
    assert len(page.encode()) < 500_000
    return reader


def card_of(offs=0.0, **options):
    plan = lay(**options)
    return judge(Take(plan, Onsets.unsorted((plan.moments.time + offs).tolist(), plan.moments.hand)))


def test_the_page_of_a_take_has_its_pictures_and_their_tables():
    page = take_page(judge(make_take(1, cycles=24)), athlete=EVIL, begun="2031-05-04T18:15", notes=[EVIL])
    reader = check(page)
    assert EVIL in "".join(reader.words)
    for name in ("Length of each cycle", "Early and late", "Places on the cycle", "Right against left", "By eight"):
        assert name in page
    assert "prefers-color-scheme: dark" in page
    assert "size: A4" in page
    assert "no judge" in page


@pytest.mark.parametrize(
    ("onsets", "said"), [([], "Nothing to tell"), ([6.1], ""), ([0.1, 0.2], "Nothing to tell"), ([6.0] * 50, "")]
)
def test_takes_with_little_in_them_have_a_page(onsets, said):
    plan = lay()
    take = Take(plan, Onsets.unsorted(onsets, ["right"] * len(onsets)))
    page = take_page(judge(take))
    check(page)
    assert said in page


def test_a_take_of_one_hand_has_no_picture_of_hands():
    page = take_page(judge(make_take(1, drill="rope_figure_eight")))
    check(page)
    assert "against left" not in page
    assert 'class="h1"' not in page


def marks(svg, kind="circle", css="h0"):
    found = ET.fromstring(svg).iter(kind)
    return [each.attrib for each in found if each.attrib.get("class") == css]


def test_a_period_lies_where_it_should():
    plan = lay(cycles=8, drill="rope_figure_eight", cues="all")
    moments = plan.moments
    late = np.where(moments.cycle >= 4, 0.3, 0.0)  # the fourth cycle is 0.3 s long: 12.5 % of 2.4 s
    svg = draw_periods(judge(Take(plan, Onsets.unsorted((moments.time + late).tolist(), moments.hand))))
    heights = [float(mark["cy"]) for mark in marks(svg)]
    assert len(heights) == 7
    assert int(np.argmin(heights)) == 3  # up is longer
    assert len(set(np.delete(heights, 3))) == 1
    assert len(marks(svg, css="ring")) == 1


def test_early_is_below_and_late_above_and_missed_is_crossed():
    plan = lay(cues="all")
    moments = plan.moments
    off = np.where(moments.cycle % 2 == 0, 0.05, -0.05)
    keep = np.arange(len(moments)) != 5
    hands = [hand for hand, kept in zip(moments.hand, keep, strict=True) if kept]
    svg = draw_asynchrony(judge(Take(plan, Onsets.unsorted((moments.time + off)[keep].tolist(), hands))))
    right = [float(mark["cy"]) for mark in marks(svg)]
    assert len(right) == 8
    assert max(right[0::2]) < min(right[1::2])  # up is late
    assert svg.count('class="cross"') == 1


def test_places_on_the_cycle_are_asked_plus_what_was_late():  # exact
    card = card_of(0.12, cues="all")  # a cycle is 1.2 s: a tenth of it
    places = {place.hand: place for place in find_places(card)}
    assert places["right"].place - places["right"].asked == pytest.approx(0.1)
    assert places["left"].place - places["left"].asked == pytest.approx(0.1)
    assert places["right"].sd == pytest.approx(0, abs=1e-9)
    assert draw_places(card).count('class="asked"') == 2


def test_the_page_of_an_athlete():
    rows = [
        row(
            number=k,
            athlete=EVIL,
            begun=f"2031-0{4 + k // 28}-{k % 28 + 1:02d}T18:00",
            spread_ms=60.0 - k,
            tempo_bpm=90.0 + 5 * (k % 4),
            steady=k % 4 < 3,
            drill=("clubs_mills", "other")[k % 7 == 0],
            title=("Mills", EVIL)[k % 7 == 0],
        )
        for k in range(40)
    ]
    page = athlete_page(rows, notes=[Note(1, "2031-05-04T18:00", EVIL)])
    reader = check(page)
    assert EVIL in "".join(reader.words)
    assert "getting smaller: -7.0 ms a week" in page
    check(athlete_page(rows[:1]))
    check(athlete_page([row(spread_ms=float("nan"), bias_ms=float("nan"), period_cv_pct=float("nan"), n=0)]))


def test_the_line_of_a_trend_goes_through_its_points():
    rows = [row(begun=f"2031-05-{k + 1:02d}", spread_ms=50.0 - 2 * k) for k in range(9)]
    svg = draw_trend(measure_trend(rows), "ms of spread")
    (line,) = marks(svg, "polyline", "fit")
    (x0, y0), (x1, y1) = (tuple(map(float, point.split(","))) for point in line["points"].split())
    points = [(float(mark["cx"]), float(mark["cy"])) for mark in marks(svg)]
    for x, y in points:
        assert y == pytest.approx(y0 + (x - x0) / (x1 - x0) * (y1 - y0), abs=0.15)


def test_the_page_of_a_group_and_of_a_mix():
    plan = lay(cycles=24)
    takes = {}
    for k, name in enumerate(("Ada", EVIL, "Cyl")):
        take = make_take(k + 1, bias=0.03 * k, cycles=24)
        takes[name] = Take(plan, take.onsets)
    reader = check(group_page(judge_group(takes), title=EVIL))
    assert EVIL in "".join(reader.words)
    times = np.concatenate([take.onsets.time for take in takes.values()])
    mix = Take(plan, Onsets.unsorted(times.tolist(), ["right"] * len(times)))
    assert "who was who cannot be told" in group_page(judge_mix(mix))
    check(group_page(judge_mix(mix)))


def test_ticks_are_round_and_inside():
    for low, high in ((-47, 52), (0, 0.013), (1e6, 1e6 + 3), (-1e-9, 1e-9)):
        found = ticks(low, high, 5)
        assert 2 <= len(found) <= 12
        assert all(low - 1e-12 <= value <= high + 1e-12 for value in found)
    assert ticks(3, 3, 5) == [3]


def test_a_range_of_nothing_can_be_drawn():
    assert room([], least=10)[0] < room([], least=10)[1]
    picture = make_picture("nothing", (1, 1), (2, 2))
    picture.mark(1, 2, 0)
    ET.fromstring(picture.svg())


def test_a_page_printed_by_a_browser_is_a4(tmp_path):
    if pdf.find_browser() is None:
        skip_for_missing_part("a browser that prints")
    path = tmp_path / "take.pdf"
    pdf.print_page(take_page(judge(make_take(1))), path)
    made = path.read_bytes()
    assert made.startswith(b"%PDF")
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", made)
    assert boxes
    for wide, high in boxes:  # ISO 216: 210 mm by 297 mm, at 72 points an inch
        assert float(wide) == pytest.approx(210 / 25.4 * 72, abs=1)
        assert float(high) == pytest.approx(297 / 25.4 * 72, abs=1)


def test_the_tables_behind_the_pictures_are_printed_though_they_are_closed(tmp_path):
    """Poppler, which knows nothing of this program, reads what is printed."""
    reader = shutil.which("pdftotext")
    if reader is None:
        pytest.skip("pdftotext is not here")
    if pdf.find_browser() is None:
        skip_for_missing_part("a browser that prints")
    card = judge(make_take(1))
    page = take_page(card)
    assert "<details>" in page
    pdf.print_page(page, tmp_path / "take.pdf")
    done = subprocess.run([reader, "-layout", tmp_path / "take.pdf", "-"], capture_output=True, text=True, check=True)
    rows = [line.split() for line in done.stdout.splitlines()]
    first = card.cycles[0]
    assert any(f"{1000 * first.period:.0f}" in row and f"{100 * first.ratio:.1f}" in row for row in rows)
    assert any(f"{1000 * first.asynchronies[0]:+.0f}" in row for row in rows)


def test_without_a_browser_it_says_what_to_do(tmp_path, monkeypatch):
    monkeypatch.setattr(pdf, "find_browser", lambda: None)
    with pytest.raises(CoachError, match=r"no browser.*print it from there"):
        pdf.print_page("<p>", tmp_path / "a.pdf")
    broken = tmp_path / "browser"
    broken.write_text("#!/bin/sh\necho it broke >&2\nexit 1\n")
    broken.chmod(0o755)
    monkeypatch.setattr(pdf, "find_browser", lambda: str(broken))
    with pytest.raises(CoachError, match="could not print the page: it broke"):
        pdf.print_page("<p>", tmp_path / "a.pdf")
    assert not (tmp_path / "a.pdf").exists()

"""The count sheet: every eight with its counts, hands and pauses, as text, as a page, and as a browser prints it."""

import re
import shutil
import subprocess
from html.parser import HTMLParser

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.music.countmap import CountMap, Place
from tempo_coach.pattern.routine import Laid, MusicFile, Note, Routine, RoutineMoment, Steps
from tempo_coach.report.sheet import make_sheet, sheet_text
from tempo_coach.report.sheet_page import sheet_page
from tests.conftest import skip_for_missing_part

# three eights at 120, a bridge of four, a pause of two seconds, two eights at 100
BEATS = np.concatenate([0.5 * np.arange(28), 16.0 + 0.6 * np.arange(16)])
COUNTS = CountMap(BEATS, ((0, 8), (8, 8), (16, 8), (24, 4), (28, 8), (36, 8)), ((14.0, 16.0),))
DURATION = 26.0


def load(name, mirrored):
    return coach.load_drill(name, mirrored=mirrored)


def routine(**more):
    return Routine("Invented & made up", MusicFile("x.wav"), first=Place(1, 3), last=Place(6, 8), **more)


def rows_of(**more):
    return make_sheet(routine(**more), COUNTS, DURATION, load).rows


def test_every_eight_has_its_time_tempo_length_and_pause():
    rows = rows_of()
    assert [row.number for row in rows] == [1, 2, 3, 4, 5, 6]
    np.testing.assert_allclose([row.start for row in rows], [0, 4, 8, 12, 16, 20.8])
    np.testing.assert_allclose([row.tempo_bpm for row in rows], [120, 120, 120, 120, 100, 100])
    assert [len(row.lengths) for row in rows] == [8, 8, 8, 4, 8, 8]
    assert [row.change for row in rows] == ["", "", "", "", "slower", ""]
    assert rows[3].pauses == ((4.0, 2.0),)
    assert (rows[0].first, rows[5].last) == (2.0, 7.0)


def test_hands_stand_on_the_counts_of_their_moments():
    # mills half a circle apart: both clubs have the same period, the second trails (common practice)
    rows = rows_of(laid=(Laid("clubs_mills", Place(2, 1), 1),))
    right, left = rows[1].hands
    assert (right.hand, left.hand) == ("right", "left")
    assert [mark.at for mark in right.marks] == [1, 3, 5, 7]
    assert [mark.at for mark in left.marks] == [2, 4, 6]
    assert [mark.at for mark in rows[2].hands[0].marks] == [0]  # the left one's last circle ends behind the eight
    assert right.begins and not rows[2].hands[0].begins


def test_one_hand_a_mirrored_drill_and_a_begin_inside_an_eight():
    one = rows_of(laid=(Laid("clubs_mills", Place(2, 1), 1, hand="left"),))
    assert [hand.hand for hand in one[1].hands] == ["left"]
    mirrored = rows_of(laid=(Laid("clubs_mills", Place(2, 1), 1, mirrored=True),))
    assert [hand.hand for hand in mirrored[1].hands] == ["left", "right"]
    late = rows_of(laid=(Laid("rope_figure_eight", Place(2, 5), 1),))
    # one wrist circle low and two high in each cycle of four counts (common practice)
    assert [mark.at for mark in late[1].hands[0].marks] == [4.5, 6.25, 6.75]
    assert [mark.at for mark in late[2].hands[0].marks] == [0.5, 2.25, 2.75]


def test_tosses_steps_and_remarks_are_where_they_belong():
    rows = rows_of(
        moments=(RoutineMoment("toss", Place(3, 7.5), "right", "high"), RoutineMoment("other", Place(3, 2), "", "bow")),
        steps=(Steps(Place(2, 5), Place(4, 3)),),
        remarks=(Note(5, "wait"),),
    )
    assert rows[2].events == ((1.0, "bow"), (6.5, "toss right high"))
    assert rows[1].steps == ((4.0, 8.0, True),)
    assert rows[2].steps == ((0.0, 8.0, False),)
    assert rows[3].steps == ((0.0, 2.0, False),)
    assert rows[4].remarks == ("wait",)


def test_a_pause_before_the_first_count_and_one_inside_an_eight():
    beats = np.concatenate([[0.0, 0.5], 4 + 0.5 * np.arange(8)])
    rows = make_sheet(routine(), CountMap(beats, ((2, 8),), ((1.0, 4.0),)), 8.0, load).rows
    assert rows[0].pauses == ((0.0, 3.0),) and rows[0].start == 4.0


def full():
    return make_sheet(
        routine(
            notes="<b>not bold</b>",
            laid=(Laid("clubs_mills", Place(1, 1), 6),),
            moments=(RoutineMoment("toss", Place(3, 7.5), "right"),),
            steps=(Steps(Place(2, 5), Place(4, 3)),),
        ),
        COUNTS,
        DURATION,
        load,
    )


def test_the_text_keeps_to_eighty_columns_and_says_what_the_signs_mean():
    text = sheet_text(full())
    assert max(len(line) for line in text.splitlines()) <= 80
    assert re.search(r"(?m)^   5   0:16\.0    100 ↓    1     2", text)
    assert "after 4: pause of 2.0 s" in text
    assert "7&: toss right" in text
    assert "● right on 2 (circle)" in " ".join(text.split())
    assert text.count("dance steps") == 3


class Outline(HTMLParser):
    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.open, self.rows, self.text = [], 0, ""

    def handle_starttag(self, tag, attrs):
        if tag != "meta":
            self.open.append(tag)
        self.rows += tag == "tr"
        assert not {"src", "href"} & dict(attrs).keys(), "the page needs nothing from elsewhere"

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text += f" {data}"


def test_the_page_is_whole_escaped_and_needs_nothing_from_elsewhere():
    page = Outline()
    html = sheet_page(full())
    page.feed(html)
    assert page.open == [] and page.rows == 1 + 6
    assert "Invented & made up" in page.text and "<b>not bold</b>" in page.text
    assert "pause 2.0 s after 4" in page.text
    assert "url(" not in html and "@import" not in html


def test_an_eight_of_twelve_counts_begins_a_second_line():
    counts = CountMap(0.5 * np.arange(24), ((0, 12), (12, 12)))
    html = sheet_page(make_sheet(routine(), counts, 12.0, load))
    assert html.count('class="counts"') == 4


def test_a_browser_prints_it_on_a4(tmp_path):
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        skip_for_missing_part("no Chromium (Debian: apt-get install chromium)")
    page, pdf = tmp_path / "sheet.html", tmp_path / "sheet.pdf"
    page.write_text(sheet_page(full()), encoding="utf-8")
    subprocess.run(
        [chromium, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
         f"--user-data-dir={tmp_path / 'profile'}", f"--print-to-pdf={pdf}", page.as_uri()],
        check=True, capture_output=True, timeout=100,
    )  # fmt: skip
    content = pdf.read_bytes()
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", content)
    # ISO 216: A4 is 210 by 297 mm; a point is 1/72 inch
    assert len(boxes) == 1
    assert float(boxes[0][0]) / 72 * 25.4 == pytest.approx(210, abs=0.5)
    assert float(boxes[0][1]) / 72 * 25.4 == pytest.approx(297, abs=0.5)

"""The page of what was followed in a film: what it says of gaps, and pictures where the cycles begin."""

import re
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from tempo_coach.observe.film.frames import Frame
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.pages import film as module
from tempo_coach.report.pages.film import MOST, cycle_starts, film_page, sum_up
from tests.report.followed import FILM, TIME, followed
from tests.report.html import EVIL, read


def frames(film):
    grey = np.full((film.height, film.width), 90, np.uint8)
    half = np.full((film.height // 2, film.width // 2), 128, np.uint8)
    return (Frame(float(time), grey, half, half, (0.0, 0.5)) for time in TIME)


@pytest.fixture
def page_of(monkeypatch):
    monkeypatch.setattr(module, "read_frames", frames)
    return film_page


@pytest.mark.parametrize(
    ("hidden", "said"),
    [
        ((), "Seen nearly everywhere, with no gap longer than 0.3 s."),
        (((1.0, 1.2),), "Seen nearly everywhere, with no gap longer than 0.3 s."),
        (((1.0, 1.2), (2.0, 2.5)), "Seen nearly everywhere; the longest gap is left from 1.97 to 2.50 s."),
        (((1.0, 1.5), (2.0, 2.2)), "Seen nearly everywhere; the longest gap is left from 0.97 to 1.50 s."),
        (((1.0, 2.0),), "Often lost: left in 80 % of the pictures. Look at the gaps before you trust it."),
    ],
)
def test_whether_the_path_can_be_trusted_in_one_sentence(hidden, said):
    assert sum_up(followed(hidden=hidden)) == said


def test_every_marker_that_was_often_lost_is_named():
    found = followed(names=("left",), hidden=((0.0, 4.0),))
    assert sum_up(found).startswith("Often lost: left in 21 % of the pictures")


def test_cycles_begin_a_second_apart_and_where_nothing_repeats_every_second():
    np.testing.assert_allclose(np.diff(cycle_starts(followed())), 1.0, atol=0.02)
    np.testing.assert_allclose(cycle_starts(followed(turning=False)), np.arange(5.0))
    long = followed(turning=False, time=np.arange(121.0))
    assert len(cycle_starts(long)) == MOST


def test_the_page_has_a_picture_a_cycle_with_the_path_of_each_marker_over_it(page_of):
    told = []
    begin = cycle_starts(followed())[1]
    found = followed(hidden=((begin + 0.3, begin + 0.5),), notes=(Reason(Why.OTHER_COLOURS, ((EVIL,),)),))
    page = page_of(found, progress=told.append)
    words = read(page).words
    starts = cycle_starts(found)
    assert page.count("data:image/jpeg;base64,") == len(starts)
    assert f"One picture a cycle ({len(starts)} of {len(starts)})" in words
    assert "320 × 180 pixels, 30 pictures a second" in words
    assert any(EVIL in word for word in words) and "<script>" not in page
    assert told == sorted(told) and told[-1] == 1.0
    titles = re.findall(r"<h3>(.*?)</h3>", page)
    assert [title.partition(" s")[0] for title in titles] == [f"{start:.2f}" for start in starts]
    assert [title.endswith("left lost for a while") for title in titles].count(True) == 1
    for svg in re.findall(r"<svg.*?</svg>", page, re.DOTALL):
        ET.fromstring(svg)


def test_the_numbers_are_shares_and_gaps(page_of):
    words = " ".join(read(page_of(followed(hidden=((1.0, 1.5), (3.0, 3.5))))).words)
    assert "left 80 % of the pictures; gaps: 2" in words
    assert "right 100 % of the pictures; gaps: 0" in words


def test_names_are_escaped_wherever_they_stand(page_of):
    page = page_of(followed(names=(EVIL, "b" * 40), hidden=((1.0, 1.2),)))
    assert "<script>" not in page
    words = read(page).words
    assert EVIL in words and EVIL[:14] in words and "b" * 14 in words


def test_when_each_was_seen_is_high_where_sure_low_where_doubtful_and_empty_in_gaps(page_of):
    page = page_of(followed(hidden=((1.0, 2.0),), doubtful=((3.0, 4.0),)))
    (line,) = (svg for svg in re.findall(r"<svg.*?</svg>", page, re.DOTALL) if "when each marker was seen" in svg)
    bars = [each.attrib for each in ET.fromstring(line).iter("rect")]
    assert [bar["height"] for bar in bars] == ["20", "20", "9", "20", "20"]
    # 790 units from 110 on are 5 s
    where = [((float(b["x"]) - 110) / 158, (float(b["x"]) + float(b["width"]) - 110) / 158) for b in bars]
    expected = [(0, 1), (2, 3), (3, 4), (4, 5), (0, 5)]
    np.testing.assert_allclose(where, expected, atol=0.05)  # a picture lasts 0.03 s
    assert {b["fill"] for b in bars[:4]} != {bars[4]["fill"]}
    assert len({float(b["y"]) + float(b["height"]) for b in bars[:4]}) == 1


def test_many_cycles_have_pictures_of_some_from_the_first_to_the_last(page_of, monkeypatch):
    monkeypatch.setattr(module, "cycle_starts", lambda _: TIME)
    page = page_of(followed())
    assert page.count("data:image/jpeg;base64,") == MOST
    assert f"({MOST} of {len(TIME)})" in page
    titles = re.findall(r"<h3>([\d.]+) s", page)
    assert (titles[0], titles[-1]) == ("0.00", f"{TIME[-1]:.2f}")
    assert FILM.height == 180

"""The page of an athlete over time: its parts, its pictures, and takes without figures."""

import math
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from tempo_coach.history.progress import Overnight, Retention, Session, measure_progress
from tempo_coach.history.records import Note
from tempo_coach.history.steady_tempo import SteadyTempo
from tempo_coach.report.pages.athlete import (
    MOST_DRILLS,
    MOST_SESSIONS,
    MOST_TAKES,
    _tell_best,
    athlete_page,
    draw_doses,
    draw_nights,
    draw_progress,
    draw_takes,
    draw_tempo,
)
from tests.history.season import row
from tests.report.html import EVIL, check, marks, read

NAN = math.nan


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
    assert "and getting smaller: by " in page
    check(athlete_page(rows[:1]))
    check(athlete_page([row(spread_ms=float("nan"), bias_ms=float("nan"), period_cv_pct=float("nan"), n=0)]))


def test_the_level_is_drawn_over_the_days_that_it_is_of():
    rows = [row(begun=f"2031-05-{k + 1:02d}", spread_ms=50.0 - 2 * k) for k in range(9)]
    svg = draw_progress(measure_progress(rows), "ms of spread")
    (line,) = marks(svg, "polyline", "fit")
    (x0, y0), (x1, y1) = (tuple(map(float, point.split(","))) for point in line["points"].split())
    points = [(float(mark["cx"]), float(mark["cy"])) for mark in marks(svg)]
    assert y0 == y1 == pytest.approx(float(np.median([y for _, y in points[-6:]])), abs=0.15)
    assert (x0, x1) == pytest.approx((points[3][0], points[8][0]), abs=0.15)
    assert svg.count('class="between"') == 1


def words(page):
    return [word for word in map(str.strip, read(page).words) if word]


def said_first(page):
    return page.partition('<p class="say">')[2]


def days(number, **changes):
    return [row(number=k, begun=f"2031-05-{k + 1:02d}T18:00:00", **changes) for k in range(number)]


def test_the_figures_at_the_top():
    rows = [*days(3), row(begun="2031-05-09T07:00:00", steady=False, seconds=130, moments=40, cycles=20)]
    told = words(athlete_page(rows))
    assert "4 takes in 4 sessions, 2031-05-01 to 2031-05-09" in told
    assert "0.1 hours of practice, 88 moments" in told
    at = told.index("takes")
    assert told[at : at + 12] == [
        "takes", "4", "4 sessions", "steady takes", "75%", "3 of 4", "last session", "1 take", "2031-05-09, 2 minutes",
        "moments in it", "40", "20 cycles, steady takes: 0",
    ]  # fmt: skip


def test_the_clearest_change_of_all_drills_is_said_first():
    slow = [row(begun=f"2031-05-{k + 1:02d}", spread_ms=50.0 - 0.5 * k, title="Slow") for k in range(9)]
    fast = [row(begun=f"2031-05-{k + 1:02d}", spread_ms=50.0 - 3 * k, title="Fast", drill="fast") for k in range(9)]
    assert said_first(athlete_page([*slow, *fast])).startswith(
        "Fast: Spread 33.5 ms (middle of her last 6 days, between 26.0 and 41.0) and getting smaller: by 47 %"
    )
    assert said_first(athlete_page(slow)).startswith("Slow: Spread 47.2 ms (middle of her last 6 days")
    assert said_first(athlete_page(slow[:3])).startswith("Too early to tell a change")


def test_of_many_drills_that_do_not_change_none_is_told_to():
    """The clearest of ten is told: at most one athlete in twenty has one by chance (binomial: 6 of 60 in 97 of 100)."""
    generator, told = np.random.default_rng(9), 0
    for _ in range(60):
        drills = [
            [
                row(begun=f"2031-05-{k + 1:02d}", drill=f"d{drill}", spread_ms=float(generator.lognormal(3.4, 0.15)))
                for k in range(16)
            ]
            for drill in range(10)
        ]
        told += not _tell_best(drills).startswith("Too early")
    assert told <= 6


def test_drills_beyond_the_most_are_counted_and_of_those_shown_the_one_with_most_takes_is_first():
    rows = [
        row(drill=f"d{k}", title=f"Drill {k}", spread_ms=20.0 + j) for k in range(MOST_DRILLS + 2) for j in range(2)
    ]
    rows += [row(drill="d3", title="Drill 3")]
    page = athlete_page(rows)
    assert "2 more drills with fewer takes are not shown." in page
    heads = [word for word in words(page) if word.startswith("Drill ")]
    assert len(heads) == MOST_DRILLS
    assert heads[:2] == ["Drill 3: 3 takes", "Drill 0: 2 takes"]
    assert "not shown" not in athlete_page(rows[:4])


def test_the_last_takes_and_notes_are_shown_and_no_more():
    rows = [row(number=k, begun=f"2031-05-04T{k // 60:02d}:{k % 60:02d}:00") for k in range(MOST_TAKES + 5)]
    notes = [Note(None, "2031-05-04T18:00", f"note {k}") for k in range(25)]
    told = words(athlete_page(rows, notes=notes))
    assert "2031-05-04: note 24" in told and "2031-05-04: note 5" in told and "2031-05-04: note 4" not in told
    assert "2031-05-04 00:05" in told and "2031-05-04 00:04" not in told
    svg = draw_takes(rows)
    assert len(marks(svg, "rect", "h1")) == len(rows)


def test_a_take_without_figures_has_dashes_and_no_mark():
    rows = [*days(3), row(number=9, begun="2031-05-09T07:00:00", bias_ms=NAN, spread_ms=NAN, steady=False)]
    told = words(athlete_page(rows))
    at = told.index("2031-05-09 07:00")
    assert told[at - 1 : at + 5] == ["9", "2031-05-09 07:00", "100", "–", "–", "0"]
    assert len(marks(draw_takes(rows), "rect", "h1")) == 3
    assert draw_takes(rows[2:]) == draw_takes([]) == ""


def test_later_and_larger_lies_right_and_up():
    svg = draw_takes([row(spread_ms=20.0, steady=False), row(spread_ms=40.0, steady=False), row(spread_ms=10.0)])
    one, other = marks(svg)
    (steady,) = marks(svg, "rect", "h1")
    assert float(one["cx"]) < float(other["cx"]) < float(steady["x"])
    assert float(other["cy"]) < float(one["cy"]) < float(steady["y"])


def test_nights_are_two_marks_joined_the_second_a_square():
    nights = Retention(
        (Overnight("2031-05-04", "2031-05-05", 30.0, 36.0), Overnight("2031-05-05", "2031-05-06", 28.0, 14.0)), 0.8
    )
    svg = draw_nights(nights)
    before, after = marks(svg), marks(svg, "rect", "h1")
    assert float(before[0]["cy"]) > float(after[0]["y"]) + 3.6
    assert float(before[1]["cy"]) < float(after[1]["y"]) + 3.6
    assert ">05-05<" in svg and ">05-06<" in svg
    assert draw_nights(Retention((), NAN)) == ""
    many = Retention(nights.nights * MOST_SESSIONS, 0.8)
    assert len(marks(draw_nights(many))) == MOST_SESSIONS


def test_the_tempo_has_its_marks_and_the_line_of_four_of_five():
    shares = ((90.0, 5, 1.0, 1.0), (100.0, 5, 0.6, 0.7), (110.0, 5, 0.8, 0.7))
    svg = draw_tempo(SteadyTempo(96.7, shares, low=92.0, high=104.0))
    points = [(float(mark["cx"]), float(mark["cy"])) for mark in marks(svg)]
    (mean,) = marks(svg, "polyline", "mean")
    eighty = float(mean["points"].split()[0].split(",")[1])
    assert points[2][1] == pytest.approx(eighty, abs=0.1)
    assert points[0][1] < eighty < points[1][1]
    assert points[1][0] - points[0][0] == pytest.approx(points[2][0] - points[1][0], abs=0.15)
    assert len(marks(svg, "polyline", "l0 arc")) == 1
    assert not marks(draw_tempo(SteadyTempo(NAN, shares)), "polyline", "l0 arc")
    assert draw_tempo(SteadyTempo(NAN, shares[:1])) == ""


def test_bars_are_moments_their_dark_part_those_of_steady_takes():
    sessions = [Session("2031-05-04T18:15", 4, 60, 8, 100, 1), Session("2031-05-05T18:15", 2, 60, 8, 50, 2)]
    svg = draw_doses(sessions)
    whole, dark = ([float(bar["height"]) for bar in marks(svg, "rect", css)] for css in ("bar rest", "bar"))
    assert whole[1] == pytest.approx(whole[0] / 2, abs=0.15)
    assert dark == pytest.approx([whole[0] / 4, whole[1]], abs=0.15)
    ET.fromstring(draw_doses([Session("2031-05-04T18:15", 1, 0, 0, 0, 0)]))


def test_one_day_has_no_picture_and_few_have_no_interval():
    assert draw_progress(measure_progress(days(1)), "ms") == ""
    svg = draw_progress(measure_progress(days(3)), "ms")
    assert len(marks(svg)) == 3 and 'class="between"' not in svg


def test_days_say_their_year_where_there_is_more_than_one():
    def axis(*when):
        return draw_progress(measure_progress([row(begun=day) for day in when]), "ms")

    assert "month and day of 2031" in axis("2031-03-01", "2031-04-10")
    assert "year, month and day" in axis("2031-12-01", "2032-02-10")

"""The pictures of a take: every mark where its number is."""

import numpy as np
import pytest

from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.report.pages.pictures import (
    DIAL,
    MOST_MARKS,
    MOST_PARTS,
    MomentPhase,
    draw_asynchrony,
    draw_hands,
    draw_parts,
    draw_periods,
    draw_places,
    find_pairs,
    find_places,
)
from tempo_coach.report.pages.plot import LEFT, RIGHT, WIDTH
from tempo_coach.score.card import judge
from tempo_coach.score.measures.parts import Part
from tests.history.season import lay
from tests.report.html import marks


def card_of(offs=0.0, **options):
    plan = lay(**options)
    return judge(Take(plan, Onsets.unsorted((plan.moments.time + offs).tolist(), plan.moments.hand)))


def test_a_period_lies_where_it_should():
    plan = lay(cycles=8, drill="rope_figure_eight", cues="all")
    moments = plan.moments
    begin = moments.time[moments.cycle == 3].min()
    late = 0.3 * np.clip((moments.time - begin) / 2.4, 0, 1)  # the fourth cycle is 0.3 s long: 12.5 % of 2.4 s
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


def rhythm_of(card):
    return {
        name: sum(1 for _ in marks(draw_asynchrony(card), *name)) for name in (("rect", "silent"), ("rect", "thinned"))
    }


def test_where_cues_were_thinned_or_off_is_shaded_unless_all_is_alike():
    assert rhythm_of(card_of(cues="all")) == {("rect", "silent"): 0, ("rect", "thinned"): 0}
    shaded = rhythm_of(card_of(cycles=24))
    assert shaded["rect", "silent"] > 0 and shaded["rect", "thinned"] > 0
    svg = draw_asynchrony(card_of(cycles=24))  # cues are thinned before there are none
    thinned, silent = ([float(each["x"]) for each in marks(svg, "rect", css)] for css in ("thinned", "silent"))
    assert max(thinned) < min(silent)


def test_no_line_is_drawn_over_a_gap():
    plan = lay(cycles=12, drill="rope_figure_eight", cues="all")
    keep = plan.moments.cycle != 6
    hands = [hand for hand, kept in zip(plan.moments.hand, keep, strict=True) if kept]
    svg = draw_periods(judge(Take(plan, Onsets.unsorted(plan.moments.time[keep].tolist(), hands))))
    runs = [each["points"].split() for each in marks(svg, "polyline", "l0")]
    assert [len(run) for run in runs] == [5, 4]  # of cycles 1 to 5 and 8 to 11: the sixth has no end, the last one none


def test_the_middle_is_a_line_at_the_bias():
    svg = draw_asynchrony(card_of(0.02, cues="all"))
    (line,) = marks(svg, "polyline", "mean")
    heights = {float(point.split(",")[1]) for point in line["points"].split()}
    assert heights == {float(mark["cy"]) for mark in marks(svg)}


def test_on_the_dial_the_first_count_is_at_the_top_and_on_as_a_clock_goes():
    svg = draw_places(card_of(cues="all"))
    asked = [(float(each["x"]) + 7, float(each["y"]) + 7) for each in marks(svg, "rect", "asked")]
    middle = DIAL / 2
    # the right club is half a cycle on, at the bottom of the outer ring; the left one is at the top of the inner one
    np.testing.assert_allclose(asked, [(middle, middle + 0.4 * DIAL), (middle, middle - 0.78 * 0.4 * DIAL)], atol=0.1)
    (mark,) = marks(draw_places(card_of(0.3, cues="all")))  # a quarter of 1.2 s late: on from the bottom is the left
    np.testing.assert_allclose((float(mark["cx"]), float(mark["cy"])), (middle - 0.4 * DIAL, middle), atol=0.1)


def test_hands_are_paired_cycle_by_cycle():
    plan = lay(cues="all")
    off = np.where(np.array(plan.moments.hand) == "left", 0.03, -0.02)
    pairs = find_pairs(card_of(off, cues="all"))
    assert [cycle for cycle, _, _ in pairs] == list(range(8))
    assert [round(a) for _, a, _ in pairs] == [-20] * 8 and [round(b) for _, _, b in pairs] == [30] * 8
    svg = draw_hands(card_of(off, cues="all"))
    assert len(marks(svg)) == 8
    (zero,) = (each for each in marks(svg, "line", "zero") if each["x1"] == each["x2"])
    assert float(marks(svg)[0]["cx"]) < float(zero["x1"])
    assert find_pairs(card_of(drill="rope_figure_eight")) == [] and draw_hands(card_of(drill="rope_figure_eight")) == ""


def test_places_of_nothing_are_not_known():
    place = MomentPhase("right", "circle", 0.25, [np.nan])
    assert (place.n, np.isnan(place.place), place.sd) == (0, True, 0.0)
    one = MomentPhase("right", "circle", 0.25, [0.1, np.nan])
    assert (one.n, one.place, one.sd) == (1, 0.35, 0.0)
    assert MomentPhase("right", "circle", 0.25, [0.1, 0.3]).sd == pytest.approx(np.sqrt(0.02))


def part(name, bias=0.02, spread=0.01, low=0.01, high=0.03, n=8):
    return Part(name, bias=bias, low=low, high=high, spread=spread, n=n)


def test_parts_have_their_middle_interval_and_spread_in_a_row_each():
    svg = draw_parts([part("a"), part("b", bias=-0.02, low=np.nan, high=np.nan), part("none", n=0)], "circle")
    one, other = marks(svg)
    assert float(other["cx"]) < float(one["cx"]) and float(one["cy"]) < float(other["cy"])
    bars = marks(svg, "rect", "bar rest")
    assert len(bars) == 2
    assert float(bars[0]["x"]) + float(bars[0]["width"]) / 2 == pytest.approx(float(one["cx"]), abs=0.1)
    # the bar is 20 ms wide where the marks are 40 ms apart
    assert float(bars[0]["width"]) == pytest.approx((float(one["cx"]) - float(other["cx"])) / 2, abs=0.15)
    (sure,) = marks(svg, "polyline", "fit")
    assert {point.split(",")[1] for point in sure["points"].split()} == {one["cy"]}
    assert draw_parts([part("a"), part("none", n=0)], "circle") == draw_parts([], "circle") == ""


def test_an_interval_wider_than_the_picture_ends_at_its_edges():
    svg = draw_parts([part("a", low=-9.0, high=9.0), part("b")], "circle")
    ends = [float(point.split(",")[0]) for point in marks(svg, "polyline", "fit")[0]["points"].split()]
    assert ends == [LEFT, WIDTH - RIGHT]


def test_long_names_of_parts_are_cut_and_escaped_and_of_many_parts_the_first_are_drawn():
    svg = draw_parts([part("n" * 22), part("m" * 23), part("<b> & c")], "hand")
    assert f">{'n' * 22}<" in svg and f">{'m' * 21}…<" in svg and "&lt;b&gt; &amp; c" in svg
    assert len(marks(draw_parts([part(str(k)) for k in range(MOST_PARTS + 9)], "eight"))) == MOST_PARTS


def test_of_a_long_take_some_marks_are_drawn_and_the_flagged_ones_among_them():
    plan = lay(cycles=700, cues="all")
    off = np.zeros(len(plan.moments))
    off[1001] = 0.3
    svg = draw_asynchrony(card_of(off, cycles=700, cues="all"))
    drawn = len(marks(svg)) + len(marks(svg, "rect", "h1"))
    assert len(plan.moments) == 1400 and 600 < drawn <= MOST_MARKS
    assert len(marks(svg, css="ring")) == 1


def test_nothing_done_draws_nothing_but_what_was_asked():
    plan = lay()
    nothing = judge(Take(plan, Onsets(np.array([]), ())))
    assert draw_periods(nothing) == "" and draw_hands(nothing) == ""
    assert draw_asynchrony(nothing).count('class="cross"') == len(plan.moments)
    assert draw_places(nothing).count('class="asked"') == 2
    assert not marks(draw_places(nothing))

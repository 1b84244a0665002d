"""The history in words: tables, sentences and bars, none wider than a terminal."""

import csv
import io
import json
import math
import textwrap
from pathlib import Path

import pytest

from tempo_coach.coach.judging import judge_take
from tempo_coach.history.forget import Going
from tempo_coach.history.progress import Overnight, Point, Retention, Trend
from tempo_coach.history.records import Athlete, Kept, Note
from tempo_coach.history.steady_tempo import SteadyTempo
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.words import history
from tempo_coach.report.words.card import format_card
from tempo_coach.report.words.places import say_what_is_steady
from tests.history.season import make_take, row

NAN = math.nan
LONG = "a name of many words " * 9


def widest(text):
    return max(map(len, text.splitlines()))


def test_takes_are_a_table_with_a_head_for_each_athlete():
    text = history.format_rows(
        [
            row(bias_ms=-10.4, spread_ms=19.6, flagged=2),
            row(number=12, drill="d" * 18, steady=False, bias_ms=NAN, spread_ms=NAN),
            row(number=13, athlete="Bo", drill="e" * 17, begun="2031-05-05T07:05:59"),
        ],
        all_takes=40,
    )
    head = "  take  begun             drill              tempo  early/late  spread  flagged"
    assert text.splitlines() == [
        "",
        "Ada",
        head,
        "     1  2031-05-04 18:15  clubs_mills         100 =    -10 ms    20 ms  2",
        "    12  2031-05-04 18:15  dddddddddddddddd…   100",
        "",
        "Bo",
        head,
        "    13  2031-05-05 07:05  eeeeeeeeeeeeeeeee   100 =    -10 ms    20 ms",
        "",
        *textwrap.wrap(
            f"3 of 40 takes; = marks those that were steady. {say_what_is_steady()}", 80, subsequent_indent="  "
        ),
    ]
    assert widest(history.format_rows([row(athlete=LONG, number=999_999, flagged=99)], all_takes=1)) <= history.WIDTH


def test_no_takes_are_said_to_be_none_or_none_like_that():
    assert history.format_rows([], all_takes=0) == "No take is kept yet."
    assert history.format_rows([], all_takes=3) == "No take is like that."


def test_a_table_for_other_programs_is_read_back():
    rows = [row(title='a, "b"\nc', spread_ms=NAN), row(number=2)]
    back = list(csv.DictReader(io.StringIO(history.rows_to_csv(rows))))
    assert [each["number"] for each in back] == ["1", "2"]
    assert (back[0]["title"], back[0]["spread_ms"], back[1]["spread_ms"]) == ('a, "b"\nc', "", "20.0")
    assert history.rows_to_csv([]).count("\n") == 1


def test_no_cell_of_the_table_is_a_formula():
    hostile = row(athlete="=HYPERLINK(1)", title="\x1b[2J", routine="@SUM(A1)", spread_ms=-20.0)
    (back,) = csv.DictReader(io.StringIO(history.rows_to_csv([hostile])))
    assert (back["athlete"], back["title"], back["routine"]) == ("'=HYPERLINK(1)", "␛[2J", "'@SUM(A1)")
    assert back["spread_ms"] == "-20.0"


def test_who_is_in_the_history():
    assert history.format_athletes([]) == "Nobody is in the history yet."
    text = history.format_athletes(
        [
            Athlete("Ada", 3, "2031-05-04T18:15", "2031-06-01T09:00"),
            Athlete("Bo", 0, "", ""),
            Athlete(LONG, 1, "2031", "2032"),
        ]
    )
    assert text.startswith("Ada: 3 takes, 2031-05-04 to 2031-06-01\nBo: 0 takes, none yet\na name")
    assert widest(text) <= history.WIDTH


def test_a_kept_take_says_where_it_belongs():
    notes = (Note(1, "2031-05-06T10:00", "wrist"), Note(1, "2031-05-07T10:00", LONG))
    card = judge_take(make_take())
    text = history.format_kept(Kept(row(routine="Spring"), make_take(), {}, "2031-06-02T08:00", 1, notes), card)
    assert text.splitlines()[:4] == [
        "Take 1, Ada, 2031-05-04 18:15, observed by taps",
        "Routine: Spring",
        "Scored again on 2031-06-02; 1 older scorecard is kept.",
        "Note of 2031-05-06: wrist",
    ]
    assert text.endswith(f"\n\n{format_card(card)}") and widest(text) <= history.WIDTH
    plain = history.format_kept(Kept(row(), make_take(), {}, "2031-06-02", 0, ()), card)
    assert plain == f"Take 1, Ada, 2031-05-04 18:15, observed by taps\n\n{format_card(card)}"
    assert "2 older scorecards are kept." in history.format_kept(Kept(row(), make_take(), {}, "2031", 2, ()), card)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ((0.75, 0.6, 0.9, True), " and getting smaller: by 25 % over her last 9 days (98 %: 10 to 40 %)."),
        ((1.24, 1.05, 1.5, True), " and growing: by 24 % over her last 9 days (98 %: 5 to 50 %)."),
        ((0.75, 0.5, 1.1, False), ": no change beyond chance in her last 9 days."),
        ((NAN, NAN, NAN, False, Reason(Why.NO_TAKE)), "; no take tells it."),
    ],
)
def test_progress_says_no_more_than_its_interval(change, said):
    points = (Point("2031-05-04", 0.0, 20.0, 1),) * 9
    progress = Trend("spread_ms", points, 20.0, 17.0, 24.0, 9, *change)
    level = "Spread 20.0 ms (middle of her last 6 days, between 17.0 and 24.0)"
    assert history.tell_progress(progress, "spread", "ms") == level + said
    alone = Trend("spread_ms", points[:1], 20.0, days=1, reason=Reason(Why.NO_TAKE))
    assert history.tell_progress(alone, "spread", "ms") == "Spread 20.0 ms (one day); no take tells it."


def test_what_was_kept_overnight():
    nights = (Overnight("2031-05-04", "2031-05-05", 30.0, 36.4), Overnight("2031-05-05", "2031-05-06", 28.0, 29.6))
    assert history.tell_retention(Retention(nights, 1.134)) == (
        "Kept overnight: the first take of a day has 1.13 times the spread of the last one of the day before (middle "
        "of 2 nights; too few to tell it from chance: 6 are needed; 2031-05-06: 28 ms, then 30 ms)."
    )
    assert "(middle of one night; too few" in history.tell_retention(Retention(nights[:1], 1.2))
    assert (
        history.tell_retention(Retention((), NAN, Reason(Why.NO_NIGHTS))) == "Kept overnight: no two days have a take."
    )
    told = history.tell_retention(Retention((*nights, nights[0]._replace(without_cues=True)) * 2, 1.2, None, 1.05, 1.4))
    assert "(middle of 6 nights, between 1.05 and 1.40; 2031-05-05: without cues, 30 ms, then 36 ms)" in told


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (93.6, 108.4, "between 94 and 108"),
        (90.0, 108.4, "between 90 or less and 108"),
        (91, 110.0, "between 91 and 110 or more"),
    ],
)
def test_the_steady_tempo_and_where_its_interval_ends_with_what_was_tried(low, high, said):
    shares = tuple((bpm, 5, 0.8, 0.8) for bpm in (90.0, 100.0, 110.0))
    assert history.tell_tempo(SteadyTempo(101.6, shares, low=low, high=high)) == (
        f"Four takes of five are steady up to 102 beats a minute (95 %: {said})."
    )
    assert (
        history.tell_tempo(SteadyTempo(NAN, (), Reason(Why.FASTEST_STEADY, (110.4,))))
        == "The tempo up to which four takes of five are steady: more than 110, the fastest that was tried."
    )


@pytest.mark.parametrize(
    ("values", "bars"),
    [
        ([], ""),
        ([0.0, 0.0], "▁▁"),
        ([5.0], "█"),
        ([0, 1, 2, 3, 4, 5, 6, 7, 8], "▁▂▃▄▅▆▇██"),
        ([NAN, 8, NAN, 4], "█▅"),
        ([100, *range(1, 11)], "▁▂▃▄▅▅▆▇██"),
    ],
)
def test_bars_of_the_last_values_as_high_as_they_are(values, bars):
    assert history.spark(values, 10) == bars


def test_what_would_go_with_an_athlete():
    going = Going("Ada", 3, 96, 4, 2, "2031-05-04T18:15", "2031-06-01T09:00", (Path("a.jsonl"),), (Path("b.db"),))
    assert history.format_going(going).splitlines() == [
        "All of Ada would be removed for good:",
        "  3 takes with 96 onsets, 2031-05-04 to 2031-06-01",
        "  4 scorecards",
        "  2 notes",
        "  the file a.jsonl",
        "  what the copy b.db holds of her",
        "Backups that you made, and files that you exported, stay where you put them.",
    ]
    assert "  0 takes with 0 onsets\n" in history.format_going(Going("Bo", 0, 0, 0, 0, "", "", (), ()))


def test_how_it_goes_on_fits_the_page_with_one_take_and_with_many():
    for rows in (
        [row(athlete=LONG, title=LONG)],
        [row(begun=f"2031-05-{k + 1:02d}T18:00", spread_ms=50.0 - k) for k in range(28)],
    ):
        text = history.format_progress(rows)
        assert widest(text) <= history.WIDTH
        json.dumps(history.progress_to_dict(rows), allow_nan=False)
    assert "28 takes in 28 sessions, 2031-05-01 to 2031-05-28\n" in text
    assert "\n\nSpread 25.5 ms (middle of her last 6 days, between 23.0 and 28.0) and getting\n  smaller: by " in text
    assert "Last session, 2031-05-28: 1 take, 1 minute, 8 cycles, 16 moments; steady takes:\n  1.\n\nSteady: " in text


def test_one_of_something_is_said_as_one():
    told = history.format_going(Going("Ada", 1, 1, 1, 1, "2031-05-04T18:15", "2031-05-04T18:15", (), ()))
    assert "1 scorecard\n" in told and "1 note\n" in told and "1 take with 1 onset" in told

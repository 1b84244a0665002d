"""Cards of the eights: what begins, goes on and comes next on each."""

from dataclasses import replace

from tempo_coach.coach.eight_cards import make_cards
from tempo_coach.coach.routine_course import course_of
from tempo_coach.music.counts.count_map import Position
from tempo_coach.pattern.routine.routine import Laid
from tempo_coach.report.pages.cards import cards_page
from tests.coach.test_count_film import ROUTINE
from tests.music.counted import STEADY, WITH_PAUSE

LONG = replace(ROUTINE, laid=(Laid("ball_bounces", Position(2, 5.0), 1),))


def test_each_eight_has_a_card_with_what_begins_goes_on_and_comes_next():
    first, second, third, *others = make_cards(course_of(LONG, STEADY, None), STEADY)
    assert (first.number, first.length, first.start, first.begins) == (1, 8, 1.0, ())
    assert "bounces" in first.next and first.next_at == Position(2, 5.0)
    assert [at for at, _ in second.begins] == [5.0] and second.remark == "chin up"
    assert (second.next, second.next_at) == ("toss right", Position(3, 4.0))
    assert third.goes_on == (second.begins[0][1],) and third.begins == ((4.0, "toss right"),)
    assert len(others) == 5 and all(each.next_at is None and not each.begins for each in others)


def test_a_pause_is_told_behind_its_count():
    assert [each.pauses for each in make_cards(course_of(ROUTINE, WITH_PAUSE, None), WITH_PAUSE)] == [
        (),
        ((8.0, 2.0),),
        (),
        (),
    ]


def test_the_page_has_a_sheet_an_eight_and_shows_signs_as_they_are():
    cards = make_cards(course_of(LONG, STEADY, None), STEADY)
    page = cards_page(cards, title="<Ball> & rope")
    assert page.count("<section>") == 8 and "&lt;Ball&gt; &amp; rope" in page
    assert "toss right, eight 3 on 4" in page and "chin up" in page

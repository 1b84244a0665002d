"""What can happen to a practice: a place on the take clock that is not known is no number, and kinds are told apart."""

import math
from typing import get_args

import pytest

from tempo_coach import coach
from tempo_coach.live.notices import Code, Notice, Trouble
from tempo_coach.live.practice import course
from tempo_coach.live.practice import course as e

PLAN = coach.lay(coach.Request("clubs_mills", tempo_bpm=120, cycles=2))
KINDS = {
    e.Tick: (1.0,),
    e.Pressed: ("ä", 1.0),
    e.Observed: ("right", 1.0),
    e.Entered: (1.0,),
    e.TempoAsked: (90.0,),
    e.Prepared: (PLAN,),
    e.Began: (),
    e.Broke: (Notice(Trouble.LOST),),
    e.Back: (Notice(Code.BACK),),
    e.Noted: (Notice(Code.GAP),),
    e.Finished: (),
    e.Judged: (True,),
    e.Leave: (),
}


def test_every_kind_of_event_is_one_of_the_union() -> None:
    assert set(get_args(e.Event)) == set(KINDS)


@pytest.mark.parametrize("kind", [e.Tick, e.Pressed, e.Observed, e.Entered])
def test_where_it_lies_on_the_take_clock_need_not_be_known(kind: type) -> None:
    event = kind(*KINDS[kind])
    assert event.stamp == 1.0 and math.isnan(event.time)
    assert kind(*KINDS[kind], 2.5).time == 2.5


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_any_event_may_come_at_any_time(kind: type) -> None:
    for begun in (course.begin(PLAN, stamp=0.0)[0], course.begin(PLAN, stamp=0.0, keys="jf", at_once=True)[0]):
        session, orders = course.step(begun, kind(*KINDS[kind]))
        assert isinstance(orders, tuple) and session.plan is PLAN

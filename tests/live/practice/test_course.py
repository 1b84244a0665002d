"""The course of a practice, event by event: no clock, no device, no screen."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach import coach
from tempo_coach.live.notices import Code, Notice, Trouble
from tempo_coach.live.practice import course
from tempo_coach.live.practice import course as e
from tempo_coach.live.practice.course import Effect
from tempo_coach.live.practice.session import Onset, PracticeState, Stage, Way
from tempo_coach.pattern.drill.drill import TempoSteps

GONE, BACK = Notice(Trouble.LOST), Notice(Code.BACK)
PLAN = coach.lay(coach.Request("clubs_mills", tempo_bpm=120, cycles=8))


def run(session: PracticeState, *events: e.Event) -> tuple[PracticeState, list[Effect]]:
    """All orders of several events, one after the other."""
    effects: list[Effect] = []
    for event in events:
        session, more = course.step(session, event)
        effects += more
    return session, effects


def playing(**options: object) -> PracticeState:
    session, _ = course.begin(PLAN, stamp=0.0, keys="jf", at_once=True, **options)  # type: ignore[arg-type]
    session, effects = run(session, e.Prepared(PLAN), e.Began())
    assert session.stage is Stage.PLAYING and effects == [Effect.PLAY]
    return session


def test_each_hand_is_asked_for_its_key_in_turn_and_no_press_of_that_is_an_onset() -> None:
    session, effects = course.begin(PLAN, stamp=0.0)
    assert effects == (Effect.PREPARE,) and session.asked_hand == "right"
    session, _ = run(session, e.Pressed("x", 1.0))
    assert session.asked_hand == "left" and session.stage is Stage.ASKING
    session, effects = run(session, e.Pressed("b", 2.0))
    assert session.keys == (("right", "x"), ("left", "b")) and session.stage is Stage.WAITING
    assert session.onsets == () and effects == []


@pytest.mark.parametrize("key", ["enter", "escape", "tab", "up", "ctrl+c", "f1", "shift+tab", "<scroll-up>"])
def test_a_key_that_leads_through_the_screens_is_no_hands_key(key: str) -> None:
    session, _ = run(course.begin(PLAN, stamp=0.0)[0], e.Pressed(key, 1.0))
    assert session.asked_hand == "right" and session.notice == Notice(Code.KEY_LEADS)


@pytest.mark.parametrize("key", ["x", "7", "/", "<", "ä", "space"])
def test_any_key_with_a_sign_or_the_space_bar_may_be_a_hands_key(key: str) -> None:
    session, _ = run(course.begin(PLAN, stamp=0.0)[0], e.Pressed(key, 1.0))
    assert session.keys == (("right", key),)


def test_two_hands_cannot_share_a_key() -> None:
    session, _ = run(course.begin(PLAN, stamp=0.0)[0], e.Pressed("x", 1.0), e.Pressed("X", 2.0))
    assert session.asked_hand == "left" and session.notice == Notice(Code.KEY_TAKEN, ("right",))


def test_enter_takes_the_usual_keys_and_starts() -> None:
    session, effects = run(course.begin(PLAN, stamp=0.0)[0], e.Prepared(PLAN), e.Entered(1.0))
    assert dict(session.keys) == {"right": "j", "left": "f"}
    assert session.stage is Stage.OPENING and effects == [Effect.PLAY]


def test_the_sound_starts_only_when_its_samples_are_there() -> None:
    session, effects = course.begin(PLAN, stamp=0.0, keys="jf", at_once=True)
    assert session.stage is Stage.OPENING and effects == (Effect.PREPARE,)
    session, effects = run(session, e.Prepared(PLAN))
    assert effects == [Effect.PLAY]


def test_keys_before_the_first_sample_are_in_no_take_and_that_is_told() -> None:
    session, _ = course.begin(PLAN, stamp=0.0, keys="jf", at_once=True)
    session, effects = run(session, e.Prepared(PLAN), e.Pressed("j", 1.0), e.Pressed("q", 1.1), e.Pressed("f", 1.2))
    assert session.onsets == () and effects == [Effect.PLAY]
    session, _ = run(session, e.Began())
    assert session.stage is Stage.PLAYING and session.notice == Notice(Code.KEYS_TOO_SOON, (2,))
    session, _ = run(session, e.Pressed("j", 2.0, 0.5))
    assert len(session.onsets) == 1


def test_walking_in_counts_down_and_enter_cuts_it_short() -> None:
    way = Way(ready=10.0)
    session, begun = course.begin(PLAN, stamp=5.0, keys="jf", at_once=True, way=way)
    assert begun == (Effect.PREPARE, Effect.WALK)
    assert session.stage is Stage.WALKING
    session, effects = run(session, e.Prepared(PLAN), e.Tick(8.0))
    assert session.stage is Stage.WALKING and session.left == pytest.approx(7.0) and effects == []
    waited, effects = run(session, e.Tick(15.0))
    assert waited.stage is Stage.OPENING and effects == [Effect.PLAY]
    _, effects = run(session, e.Entered(9.0))
    assert effects == [Effect.PLAY]


def test_presses_become_onsets_of_their_hand_and_other_keys_do_nothing() -> None:
    session, effects = run(playing(), e.Pressed("j", 3.0, 2.5), e.Pressed("q", 3.1, 2.6), e.Pressed("F", 3.2, 2.7))
    assert session.onsets == (Onset("right", 3.0, 2.5), Onset("left", 3.2, 2.7))
    assert effects == [Effect.KEEP, Effect.KEEP]


def test_a_press_whose_place_is_not_known_yet_is_kept_with_its_stamp() -> None:
    session, effects = run(playing(), e.Pressed("j", 3.0, math.nan))
    assert session.onsets[0].stamp == 3.0 and effects == [Effect.KEEP]


def test_enter_ends_the_take_early_and_says_where() -> None:
    session, effects = run(playing(), e.Tick(4.0, 3.5), e.Entered(4.5, 4.0))
    assert session.stage is Stage.JUDGING and effects == [Effect.END]
    assert session.how_ended == "enter" and session.stopped == 4.0


def test_enter_pressed_twice_to_start_does_not_end_what_it_started() -> None:
    session, effects = run(playing(), e.Entered(0.3, 0.2))
    assert session.stage is Stage.PLAYING and effects == []


def test_the_passage_ends_by_itself_and_nothing_was_stopped() -> None:
    session, effects = run(playing(), e.Finished())
    assert effects == [Effect.END] and session.how_ended == "passage" and session.stopped is None


def test_enter_behind_the_passage_stops_nothing_early() -> None:
    session, _ = run(playing(), e.Entered(99.0, PLAN.duration + 0.2))
    assert session.stopped is None


def test_after_the_take_enter_does_another_one_with_samples_of_its_own() -> None:
    session, effects = run(playing(), e.Finished(), e.Judged(steady=True))
    assert session.stage is Stage.AFTER and effects == [Effect.END, Effect.SAY, Effect.PREPARE] and not session.prepared
    session, effects = run(session, e.Prepared(PLAN), e.Entered(50.0))
    assert session.number == 2 and session.onsets == () and effects == [Effect.PLAY]


def test_takes_follow_each_other_by_themselves_until_their_number() -> None:
    session = playing(way=Way(takes=2, rest=20.0))
    session, _ = run(session, e.Tick(30.0, 20.0), e.Finished(), e.Judged(steady=True), e.Prepared(PLAN))
    assert session.stage is Stage.RESTING
    session, effects = run(session, e.Tick(49.0))
    assert session.left == pytest.approx(1.0) and effects == []
    session, effects = run(session, e.Tick(50.0), e.Began(), e.Finished(), e.Judged(steady=True))
    assert Effect.PLAY in effects and session.number == 2 and session.stage is Stage.AFTER


def test_enter_while_resting_stays_with_the_scorecard() -> None:
    session, _ = run(playing(way=Way(takes=9)), e.Finished(), e.Judged(steady=True), e.Entered(40.0))
    assert session.stage is Stage.AFTER


def test_sound_that_never_came_runs_on_a_silent_clock_and_says_why() -> None:
    session, _ = course.begin(PLAN, stamp=0.0, keys="jf", at_once=True)
    session, effects = run(session, e.Prepared(PLAN), e.Broke(Notice(Trouble.NO_DEVICE)))
    assert effects == [Effect.PLAY, Effect.PLAY_SILENTLY] and session.notice == Notice(Trouble.NO_DEVICE)
    assert run(session, e.Began())[0].stage is Stage.PLAYING


def test_sound_that_goes_away_pauses_and_loses_nothing() -> None:
    session, effects = run(playing(), e.Pressed("j", 3.0, 2.5), e.Broke(GONE))
    assert session.stage is Stage.PAUSED and len(session.onsets) == 1 and effects == [Effect.KEEP]
    session, effects = run(session, e.Pressed("j", 4.0, math.nan))
    assert session.stage is Stage.PAUSED and effects == []
    session, effects = run(session, e.Back(BACK), e.Pressed("j", 9.0), e.Began())
    assert effects == [Effect.RESUME] and session.stage is Stage.PLAYING and len(session.onsets) == 1


def test_a_paused_take_that_fails_again_before_it_goes_on_is_still_paused() -> None:
    session, _ = run(
        playing(), e.Pressed("j", 3.0, 2.5), e.Broke(GONE), e.Back(BACK), e.Pressed("f", 4.0), e.Broke(GONE)
    )
    assert session.stage is Stage.PAUSED and len(session.onsets) == 1


def test_enter_ends_a_paused_take_where_it_broke() -> None:
    session, effects = run(playing(), e.Tick(5.0, 4.0), e.Broke(GONE), e.Entered(9.0, math.nan))
    assert effects == [Effect.END] and session.stopped == 4.0


def test_leaving_closes_everything_from_anywhere() -> None:
    for begun in (course.begin(PLAN, stamp=0.0)[0], playing()):
        session, effects = run(begun, e.Leave())
        assert session.stage is Stage.LEFT and effects == [Effect.LEAVE]


def test_the_tempo_follows_the_takes() -> None:
    session = playing(way=Way(steps=TempoSteps(60, 140, step=4, steady_takes=2)))
    for good, tempo in ((True, 120.0), (True, 124.0), (True, 124.0), (False, 120.0)):
        session, _ = run(session, e.Finished(), e.Judged(steady=good), e.Prepared(PLAN), e.Entered(0.0), e.Began())
        assert session.tempo_bpm == tempo


def test_where_nobody_taps_no_key_is_asked_for() -> None:
    session, _ = course.begin(PLAN, stamp=0.0, hands=())
    assert session.stage is Stage.WAITING


def test_keys_that_cannot_be_told_apart_are_a_bug_of_the_caller() -> None:
    with pytest.raises(ValueError, match="different"):
        course.begin(PLAN, stamp=0.0, keys="jJ")


EVENTS = st.one_of(
    st.builds(e.Tick, st.floats(0, 100), st.floats(0, 20)),
    st.builds(e.Pressed, st.sampled_from(["j", "f", "x", "space"]), st.floats(0, 100), st.floats(0, 20)),
    st.builds(e.Entered, st.floats(0, 100), st.floats(0, 20)),
    st.just(e.Prepared(PLAN)),
    st.just(e.Began()),
    st.builds(e.Broke, st.just(GONE)),
    st.builds(e.Back, st.just(BACK)),
    st.just(e.Finished()),
    st.builds(e.Judged, st.booleans()),
)


@given(st.lists(EVENTS, max_size=40))
def test_whatever_comes_no_onset_of_a_take_is_lost_and_none_is_made_up(events: list[e.Event]) -> None:
    session, _ = course.begin(PLAN, stamp=0.0, keys="jf", at_once=True, way=Way(takes=2, rest=5.0))
    for event in events:
        before = session
        session, effects = course.step(session, event)
        grew = len(session.onsets) - len(before.onsets)
        if Effect.PLAY in effects:
            assert session.onsets == ()
        elif grew:
            assert isinstance(event, e.Pressed) and grew == 1 and Effect.KEEP in effects
            assert before.stage is Stage.PLAYING
        else:
            assert session.onsets == before.onsets

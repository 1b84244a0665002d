"""A whole routine as one plan: what is laid is asked where it is laid, and judged as that."""

from dataclasses import replace

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.music.counts.count_map import CountMap, Position
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.plan.cues import speak_counts
from tempo_coach.pattern.plan.layout import cut_short, lay_out
from tempo_coach.pattern.plan.plan import Music
from tempo_coach.pattern.plan.plan_file import plan_from_dict, plan_to_dict
from tempo_coach.pattern.plan.section_plans import eights_of_section, section_plan
from tempo_coach.pattern.routine.routine import Laid, MusicFile, Routine
from tempo_coach.pattern.routine.run_through import check_laid, run_through
from tempo_coach.score.card import judge
from tests.refused import refused

MUSIC = Music("/invented/music.wav", "0" * 64)
#: Ten eights of half a second a count, the fourth one a bridge of four, and a pause in eight 2.
BEATS = 1.0 + 0.5 * np.arange(76) + np.where(np.arange(76) >= 12, 2.0, 0.0)
EIGHTS = tuple(
    zip(np.cumsum([0, 8, 8, 8, 4, 8, 8, 8, 8, 8])[:10].tolist(), [8, 8, 8, 4, 8, 8, 8, 8, 8, 8], strict=True)
)
COUNTS = CountMap(BEATS, EIGHTS, ((float(BEATS[11]) + 0.5, float(BEATS[12])),))


def routine(*laid):
    return Routine("Invented", MusicFile("music.wav"), apparatus="rope", laid=laid)


def load(laid):
    return coach.load_drill(laid.drill, mirrored=laid.mirrored, hand=laid.hand or None), {"of": laid.drill}


def lay(*laid, **options):
    return run_through(routine(*laid), COUNTS, load, name="invented", music=MUSIC, **options)


ROPE = Laid("rope_figure_eight", Position(2, 1.0), 2)
MILLS = Laid("clubs_mills", Position(6, 5.0), 2)


def test_one_stretch_from_its_own_eight_is_the_plan_of_its_drill():
    ours = lay(ROPE, from_eight=2, eights=2)
    drill, _ = load(ROPE)
    alone = lay_out(drill, COUNTS, music=MUSIC, from_eight=2, eights=2, lead_in_counts=8, cues="all")
    np.testing.assert_array_equal(ours.moments.time, alone.moments.time)
    np.testing.assert_array_equal(ours.cues.time, alone.cues.time)
    assert ours.cues.sound == alone.cues.sound and ours.pieces == alone.pieces


def test_each_stretch_lies_where_it_was_laid_with_a_number_free_between_them():
    plan = lay(MILLS, ROPE)
    first = {int(cycle): plan.moments.count[plan.moments.cycle == cycle].min() for cycle in set(plan.moments.cycle)}
    # rope: 16 counts from count 8 on in cycles of 4; mills: from the fifth count of the eight that begins on 36
    assert sorted(first) == [0, 1, 2, 3, *range(5, 13)]
    np.testing.assert_array_equal(plan.cycle_starts[:5], [8, 12, 16, 20, 24])
    assert load(MILLS)[0].pattern.cycle_counts == 2
    assert plan.cycle_starts[5] == 36 + 4
    # the mills' moments: the middle of a circle of two counts
    assert (first[0], first[5]) == (8.5, 36 + 4 + 1)
    music = plan.pieces[0].music_start + plan.moments.time
    np.testing.assert_allclose(music, COUNTS.seconds_at(plan.moments.count, after=True), atol=1e-12)


def test_onsets_on_all_moments_are_judged_without_fault_and_without_a_period_across_the_gap():
    plan = lay(ROPE, MILLS)
    card = judge(Take(plan, Onsets(plan.moments.time, plan.moments.hand)))
    assert card.value("bias_ms") == pytest.approx(0, abs=1e-9)
    assert not len(card.missed) and not len(card.extra_time) and not card.flagged
    ratios = np.array([each.ratio for each in card.cycles])
    assert np.nanmax(np.abs(ratios - 1)) < 1e-9
    # 3 periods of the rope's 4 cycles, 7 of the mills' 8 with each hand
    assert np.isfinite(ratios).sum() == 3 + 7 + 7


def test_moments_of_two_drills_that_are_called_the_same_are_told_apart_and_others_keep_their_name():
    rope, _ = load(ROPE)
    (hand,) = rope.pattern.hands
    renamed = replace(hand, moments=(*hand.moments[:-1], replace(hand.moments[-1], label="the last")))
    twin = replace(rope, name="twin", title="Twin", pattern=replace(rope.pattern, hands=(renamed,)))
    drills = {"rope_figure_eight": rope, "twin": twin}
    laid = (replace(ROPE, eights=1), Laid("twin", Position(6, 1.0)))
    plan = run_through(routine(*laid), COUNTS, lambda each: (drills[each.drill], {}), name="invented", music=MUSIC)
    apart = [f"low ({rope.title})", f"high 1 ({rope.title})", "high 2"]
    assert list(plan.moments.label) == 2 * apart + 2 * ["low (Twin)", "high 1 (Twin)", "the last"]
    # one drill laid twice is called the same both times
    assert set(lay(ROPE, replace(ROPE, at=Position(6, 1.0))).moments.label) == {"low", "high 1", "high 2"}


def test_two_hands_may_do_different_things_at_one_time():
    both = (
        replace(MILLS, hand="right", at=Position(6, 1.0)),
        replace(MILLS, hand="left", at=Position(7, 1.0), eights=1),
    )
    plan = lay(*both)
    assert plan.hands == ("right", "left")
    assert np.all(np.diff(plan.moments.time) >= 0) and np.all(np.diff(plan.cycle_starts) >= 0)
    assert len(plan.moments.of_hand("right")) == 8 and len(plan.moments.of_hand("left")) == 4


def test_it_goes_through_its_file_and_speaks_its_counts():
    plan = lay(ROPE, MILLS, speed=0.8)
    again = plan_from_dict(plan_to_dict(plan), where="here")
    np.testing.assert_array_equal(again.cycle_starts, plan.cycle_starts)
    spoken = speak_counts(plan)
    said = [(t, s) for t, s in zip(spoken.cues.time, spoken.cues.sound, strict=True) if s.startswith("say ")]
    assert said[0][1] == "say five"
    for time, sound in said[4:]:
        place = spoken.place(float(spoken.counts_at(time + 1e-6)))
        assert (
            sound == "say " + ("one", "two", "three", "four", "five", "six", "seven", "eight")[round(place.count) - 1]
        )


def test_a_passage_keeps_only_the_cycles_inside_it():
    plan = lay(ROPE, MILLS, from_eight=3, eights=1)
    assert plan.cycles == 2 and set(plan.hands) == {"right"}
    assert [eight.number for eight in plan.eights] == [3]


def test_what_cannot_be_is_said():
    with refused("nothing is laid on these eights"):
        lay(ROPE, from_eight=8)
    with refused("an eight of the music, 1 to 10, got 11"):
        lay(ROPE, from_eight=11)
    with refused("thin out in one drill"):
        lay(ROPE, cues="thinning")
    with refused(r"speed of 0\.5 to 1\.2"):
        lay(ROPE, speed=2)
    with refused("lead-in of 0 to 32"):
        lay(ROPE, lead_in_counts=40)


def test_eights_on_which_nothing_is_laid_are_told_without_the_music():
    whole = routine(MILLS, ROPE)
    check_laid(whole)
    check_laid(whole, 8)  # from count 5 of eight 6 for two eights: it still goes on there
    check_laid(whole, 4, 6)
    with refused("nothing is laid on eights 5 to the end; there is rope_figure_eight on 2 to 3"):
        check_laid(routine(ROPE), 5)
    with refused("nothing is laid on its eights yet"):
        check_laid(routine())


def test_each_section_is_a_plan_of_its_own_on_the_same_clock():
    plan = plan_from_dict(plan_to_dict(lay(MILLS, ROPE)), where="here")
    rope, mills = (section_plan(plan, each) for each in plan.sections)
    assert (rope.drill, rope.hands, rope.pattern) == ("rope_figure_eight", ("right",), {"of": "rope_figure_eight"})
    alone = lay_out(load(ROPE)[0], COUNTS, music=MUSIC, from_eight=2, eights=2, lead_in_counts=8, cues="all")
    np.testing.assert_allclose(rope.moments.time - rope.moments.time[0], alone.moments.time - alone.moments.time[0])
    assert rope.cycle_counts == alone.cycle_counts and rope.moments.label == alone.moments.label
    assert mills.moments.cycle.tolist()[0] == 0 and mills.cycles == 8
    assert [eights_of_section(plan, each) for each in plan.sections] == [(2, 3), (6, 8)]
    cut = cut_short(plan, float(rope.moments.time[-1]) + 0.1)
    assert section_plan(cut, cut.sections[1]) is None and section_plan(cut, cut.sections[0]).cycles == 4


def test_every_other_count_clicks_where_that_is_asked_for():
    plain, every = lay(ROPE), lay(ROPE, every_count=True)
    counts = np.arange(0, COUNTS.last_count + 1)
    expected = (COUNTS.seconds_at(counts, after=True) - every.pieces[0].music_start).tolist()
    heard = [t for t, sound in zip(every.cues.time, every.cues.sound, strict=True) if sound in ("count", "one")]
    assert {round(t, 6) for t in heard} >= {round(t, 6) for t in expected if round(t, 6) not in
                                            {round(t, 6) for t in every.moments.time}}  # fmt: skip
    assert len(every.cues.time) > len(plain.cues.time)

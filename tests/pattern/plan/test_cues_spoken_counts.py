"""Spoken counts: which number lies on which count."""

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.pattern.plan.cues import speak_counts
from tempo_coach.pattern.plan.layout import lay_out
from tempo_coach.pattern.plan.plan import Plan


def said(plan: Plan) -> list[tuple[float, str]]:
    return [
        (round(float(time), 6), sound.removeprefix("say "))
        for time, sound in zip(plan.cues.time, plan.cues.sound, strict=True)
        if sound.startswith("say ")
    ]


def lay(**options):
    return coach.lay(coach.Request("clubs_mills", tempo_bpm=120, spoken=True, **options))


def test_the_lead_in_is_five_to_eight_and_then_every_count_has_its_number():
    words = said(lay(cycles=8))
    assert [word for _, word in words[:4]] == ["five", "six", "seven", "eight"]
    assert [word for _, word in words[4:12]] == ["one", "two", "three", "four", "five", "six", "seven", "eight"]
    assert words[12][1] == "one"
    np.testing.assert_allclose(np.diff([time for time, _ in words]), 0.5)


def test_the_sounds_of_the_hands_stay_where_they_are():
    clicked = coach.lay(coach.Request("clubs_mills", tempo_bpm=120, cycles=8))
    hands = {"first_hand", "second_hand"}
    for plan in (clicked, lay(cycles=8)):
        assert set(plan.cues.sound) & hands == hands
    assert not {"count", "one"} & set(lay(cycles=8).cues.sound)
    kept = [(t, s) for t, s in zip(clicked.cues.time, clicked.cues.sound, strict=True) if s in hands]
    spoken = lay(cycles=8).cues
    assert [(t, s) for t, s in zip(spoken.time, spoken.sound, strict=True) if s in hands] == kept


def test_where_the_ones_alone_are_heard_only_one_is_said():
    words = said(lay(cycles=16, cues="ones"))
    assert {word for _, word in words[4:]} == {"one"}
    assert len(words) == 4 + 4


def test_without_cues_only_the_lead_in_is_said():
    assert [word for _, word in said(lay(cycles=8, cues="none"))] == ["five", "six", "seven", "eight"]


def test_as_cues_thin_out_so_do_the_counts():
    plan = lay(cycles=16, cues="thinning")
    words = said(plan)
    silent_from = plan.moments.time[plan.moments.cycle == 12].min()
    assert max(time for time, _ in words) < silent_from
    first, second = ([w for t, w in words if a <= t - plan.start < a + 4] for a in (0.0, 4.0))
    assert len(first) == 8
    assert len(second) < len(first)


def test_short_counts_are_said_every_other_one():
    words = [word for _, word in said(coach.lay(coach.Request("clubs_mills", tempo_bpm=230, cycles=8, spoken=True)))]
    assert set(words) == {"one", "three", "five", "seven"}


def test_an_eight_of_six_counts_ends_with_six():
    counts = CountMap(0.5 * np.arange(40), eights=((0, 8), (8, 6), (14, 8)))
    plan = speak_counts(lay_out(coach.load_drill("clubs_mills"), counts, tempo_bpm=120, from_eight=1, eights=3))
    words = [word for _, word in said(plan)]
    at = words.index("one", words.index("one") + 1)
    assert words[at : at + 7] == ["one", "two", "three", "four", "five", "six", "one"]


@pytest.mark.parametrize("name", ["rope_figure_eight", "clubs_mills_carried", "ball_bounces"])
def test_words_lie_on_whole_counts_of_every_drill(name):
    plan = coach.lay(coach.Request(name, spoken=True))
    counts = plan.counts_at([time for time, _ in said(plan)])
    np.testing.assert_allclose(counts, np.round(counts), atol=1e-6)

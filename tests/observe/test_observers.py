"""The ways of observing: what each carries, and what a take may have been observed by."""

import pytest

from tempo_coach import coach
from tempo_coach.observe.observers import OBSERVERS, SOUNDS, Floor, Source
from tempo_coach.observe.take.onsets import Onsets, Take


def test_a_kind_of_sound_is_heard_and_says_what_it_adds():
    assert {key for key, each in OBSERVERS.items() if each.source is Source.SOUND} == set(SOUNDS)
    assert all(each.spread_ms > 0 and each.band_hz[0] < each.band_hz[1] for each in SOUNDS.values())
    assert all((each.floor is Floor.KIND) == (each.profile is not None) for each in OBSERVERS.values())
    # a syllable has no instant: its perceived onset is spread over tens of milliseconds (common practice)
    assert SOUNDS["voice"].spread_ms > SOUNDS["clap"].spread_ms


def test_only_where_the_performer_herself_taps_her_scatter_can_be_split():
    assert [key for key, each in OBSERVERS.items() if each.splits] == ["tap"]


def test_what_nobody_observes_by_is_a_callers_bug():
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=2))
    with pytest.raises(ValueError, match=r"observed_by: expected one of .*'tap'.*, got 'guess'"):
        Take(plan, Onsets([], ()), observed_by="guess")

"""What is said aloud around a take."""

from pathlib import Path

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.live.spoken import WORDS, choose_words, join_words, load_words, mix_walk_in
from tempo_coach.music.sound import Sound, write_sound
from tempo_coach.observe.onsets import Onsets, Take
from tempo_coach.score.card import Scorecard

RATE = 8000
CLICK = Sound(np.full((40, 1), 0.5, np.float32), RATE)
PLAN = coach.lay(coach.Request("clubs_mills_carried", cycles=12))


def word(value: float, length: int = 400) -> Sound:
    return Sound(np.full((length, 1), value, np.float32), RATE)


def judge(late: dict[int, float], scatter: float = 0.01, seed: int = 1) -> Scorecard:
    times = PLAN.moments.time + np.random.default_rng(seed).normal(0, scatter, len(PLAN.moments))
    for k, off in late.items():
        times[k] += off
    return coach.judge_take(Take(PLAN, Onsets.unsorted(times.tolist(), PLAN.moments.hand)))


def test_each_of_the_last_seconds_begins_on_its_second() -> None:
    heard = mix_walk_in(10, {"three": word(0.9)}, CLICK)
    assert len(heard.samples) == 10 * RATE
    begins = np.flatnonzero(np.diff((np.abs(heard.samples[:, 0]) > 0).astype(int), prepend=0) == 1)
    assert begins.tolist() == [5 * RATE, 6 * RATE, 7 * RATE, 8 * RATE, 9 * RATE]
    assert heard.samples[7 * RATE, 0] == pytest.approx(0.9) and heard.samples[8 * RATE, 0] == pytest.approx(0.5)


@pytest.mark.parametrize(("seconds", "said"), [(0.5, 0), (1, 1), (3.5, 3)])
def test_a_short_walk_in_says_what_fits(seconds: float, said: int) -> None:
    heard = np.abs(mix_walk_in(seconds, {}, CLICK).samples[:, 0])
    assert np.count_nonzero(np.diff((heard > 0).astype(int), prepend=0) == 1) == said


def test_a_word_longer_than_what_is_left_is_cut_not_wrapped() -> None:
    heard = mix_walk_in(1, {"one": word(0.9, 3 * RATE)}, CLICK)
    assert len(heard.samples) == RATE


def test_the_worst_moment_is_named_by_hand_circle_and_way() -> None:
    moments = PLAN.moments
    third = [k for k in range(len(moments)) if moments.hand[k] == "right" and moments.cycle[k] == 5][2]
    assert choose_words(judge({third: 0.2}), again=True) == ("right", "third circle", "late", "again")
    assert choose_words(judge({third: -0.2})) == ("right", "third circle", "early")


def test_an_even_take_is_called_even_and_a_steadier_one_steadier() -> None:
    assert choose_words(judge({}, 0.004)) == ("even",)
    assert choose_words(judge({}, 0.004), judge({}, 0.03)) == ("even", "steadier")
    assert "steadier" not in choose_words(judge({}, 0.01, seed=2), judge({}, 0.0101, seed=3))


def test_of_a_take_without_an_onset_nothing_is_said() -> None:
    nothing = coach.judge_take(Take(PLAN, Onsets([], ())))
    assert choose_words(nothing) == () and choose_words(nothing, again=True) == ("again",)


def test_her_own_recordings_come_first_and_missing_ones_fall_back(tmp_path: Path) -> None:
    own, ours = tmp_path / "own", tmp_path / "ours"
    for folder in (own, ours):
        folder.mkdir()
    write_sound(own / "second_circle.wav", word(0.25))
    write_sound(own / "notes.wav", word(0.1))
    write_sound(ours / "second_circle.flac", word(0.75))
    write_sound(ours / "late.ogg", word(0.5))
    words = load_words([own, ours, tmp_path / "nowhere"], RATE)
    assert set(words) == {"second circle", "late"} <= set(WORDS)
    assert words["second circle"].samples.max() == pytest.approx(0.25, abs=0.01)


def test_words_are_joined_with_a_breath_between_and_unknown_ones_are_left_out() -> None:
    joined = join_words(("left", "late", "again"), {"left": word(0.5), "again": word(0.25)}, rate_hz=RATE)
    assert joined is not None
    heard = np.flatnonzero(np.diff((np.abs(joined.samples[:, 0]) > 0).astype(int), prepend=0) == 1)
    assert heard.tolist() == [0, 400 + round(0.15 * RATE)]
    assert join_words(("late",), {}, rate_hz=RATE) is None

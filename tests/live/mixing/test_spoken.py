"""What is said aloud around a take."""

from pathlib import Path

import numpy as np
import pytest
from scipy.signal import butter, correlate, sosfiltfilt

from tempo_coach import coach
from tempo_coach.languages import Language, speaking
from tempo_coach.live.mixing.mix import load_cue_sounds, mix
from tempo_coach.live.mixing.spoken import (
    NUMBERS,
    WORDS,
    Word,
    choose_words,
    find_voice,
    join_words,
    load_words,
    mix_walk_in,
)
from tempo_coach.music.files.sound import Sound
from tempo_coach.music.files.sound_file import write_sound
from tempo_coach.observe.sound.detector import find_vowel
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.score.card import Scorecard
from tests.refused import refused

RATE = 8000
CLICK = Sound(np.full((40, 1), 0.5, np.float32), RATE)
PLAN = coach.lay(coach.Request("clubs_mills_carried", cycles=12))


def sound(value: float, length: int = 400) -> Sound:
    return Sound(np.full((length, 1), value, np.float32), RATE)


def word(value: float, length: int = 400, place: int = 0) -> Word:
    return Word(sound(value, length), place)


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
    write_sound(own / "second_circle.wav", sound(0.25))
    write_sound(own / "notes.wav", sound(0.1))
    write_sound(ours / "second_circle.flac", sound(0.75))
    write_sound(ours / "late.ogg", sound(0.5))
    words = load_words([own, ours, tmp_path / "nowhere"], RATE)
    assert set(words) == {"second circle", "late"} <= set(WORDS)
    assert words["second circle"].sound.samples.max() == pytest.approx(0.25, abs=0.01)


def test_words_are_joined_with_a_breath_between_and_unknown_ones_are_left_out() -> None:
    joined = join_words(("left", "late", "again"), {"left": word(0.5), "again": word(0.25)}, rate_hz=RATE)
    assert joined is not None
    heard = np.flatnonzero(np.diff((np.abs(joined.samples[:, 0]) > 0).astype(int), prepend=0) == 1)
    assert heard.tolist() == [0, 400 + round(0.15 * RATE)]
    assert join_words(("late",), {}, rate_hz=RATE) is None


def test_a_spoken_second_lies_on_its_second_with_its_perceived_beginning() -> None:
    heard = np.abs(mix_walk_in(3, {"two": word(0.9, place=100)}, CLICK).samples[:, 0])
    assert heard[RATE - 100] == pytest.approx(0.9) and heard[RATE - 101] == 0


def test_a_table_says_where_a_word_is_felt_to_begin_and_without_one_it_is_found(tmp_path: Path) -> None:
    for name in ("one", "two"):
        write_sound(tmp_path / f"{name}.wav", sound(0.5, RATE // 2))
    (tmp_path / "places.csv").write_text("word,sample\ntwo,1234\n")
    words = load_words([tmp_path], 2 * RATE)
    assert words["two"].place == 2468
    assert 0 <= words["one"].place < 200


@pytest.mark.parametrize("table", ["word\none\n", "word,sample\none,half\n", "word,sample\none\n"])
def test_a_table_that_cannot_be_read_is_said(tmp_path: Path, table: str) -> None:
    (tmp_path / "places.csv").write_text(table)
    with refused("columns word and sample"):
        load_words([tmp_path], RATE)


@pytest.mark.parametrize("language", ["en", "de", "it", "es", "fr"])
def test_every_word_of_a_language_is_there_short_small_and_with_its_place(language: str) -> None:
    folder = find_voice(language)[0]
    words = load_words([folder], 22_050)
    assert set(words) == set(WORDS)
    for name, (recorded, place) in words.items():
        assert recorded.rate_hz == 22_050 and recorded.channels == 1
        assert recorded.duration < (0.55 if name in NUMBERS else 1.0)
        assert np.abs(recorded.samples).max() > 0.5
        assert 0 < place < len(recorded.samples)
        assert (folder / f"{name.replace(' ', '_')}.ogg").stat().st_size < 16_000
    listed = dict(line.split(",") for line in (folder / "places.csv").read_text().splitlines()[1:])
    assert {name: str(each.place) for name, each in words.items()} == listed
    # measured again in the encoded words: a count has to sound within 5 ms of its beat
    assert all(abs(find_vowel(heard.mono(), 22_050) - place) < 0.005 * 22_050 for heard, place in words.values())


def test_hissing_words_are_felt_late_and_open_ones_at_once() -> None:
    """Six and seven begin with about 0.1 s of s; eight begins with its vowel (common practice)."""
    words = load_words(find_voice(), 22_050)
    assert all(0.06 < words[name].place / 22_050 < 0.13 for name in ("three", "four", "five", "six", "seven"))
    assert words["eight"].place / 22_050 < 0.02


def test_a_language_or_a_folder_comes_before_english_and_anything_else_is_said(tmp_path: Path) -> None:
    assert [folder.name for folder in find_voice("de")] == ["de", "en"]
    assert find_voice(tmp_path)[0] == tmp_path
    with refused("folder of recorded words or a language"):
        find_voice("nowhere at all")


@pytest.mark.parametrize(("code", "first"), [("it", "it"), ("de_AT", "de"), ("xx", "en"), ("en", "en")])
def test_counts_are_spoken_in_the_language_of_the_words(code: str, first: str) -> None:
    with speaking(Language(code)):
        assert find_voice()[0].name == first
        assert find_voice("en")[0].name == "en"


@pytest.mark.parametrize("language", ["en", "de", "it", "es", "fr"])
def test_a_count_is_felt_where_the_low_voice_rises(language: str) -> None:
    """Another rule for it: a quarter of the greatest power in the band of the first formant, 250 to 1,200 Hz."""
    rate = 22_050
    band, smooth = butter(2, (250, 1200), "band", fs=rate, output="sos"), butter(2, 40, fs=rate, output="sos")
    words = load_words(find_voice(language), rate)
    for name in NUMBERS:
        recorded, place = words[name]
        power = sosfiltfilt(smooth, sosfiltfilt(band, recorded.samples[:, 0]) ** 2)
        rise = np.argmax(power > 0.25 * power.max())
        assert abs(place - rise) / rate < 0.016, name


def test_spoken_counts_are_felt_on_their_counts_and_cut_before_the_next() -> None:
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=120, cycles=4, hand="left", cues="ones", spoken=True))
    words = {name: word(0.5, RATE, place=400) for name in NUMBERS}
    clicks = load_cue_sounds(RATE)
    heard = np.abs(mix(plan, None, clicks, words=words, rate_hz=RATE).samples[:, 0]) > 0
    begins = np.flatnonzero(np.diff(heard.astype(int), prepend=0) == 1)
    spoken = [t for t, s in zip(plan.cues.time, plan.cues.sound, strict=True) if s.startswith("say")]
    assert set(np.round(np.array(spoken) * RATE).astype(int) - 400) <= set(begins.tolist())


@pytest.mark.parametrize("language", ["en", "de", "it", "es", "fr"])
def test_counts_of_a_language_lie_within_five_milliseconds_of_their_counts(language: str) -> None:
    """Each is looked for in what is played, by cross-correlation with its recording from 0.1 s early to 0.1 s late."""
    rate, around = 22_050, 2205
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=6, cues="all", spoken=True))
    words = load_words(find_voice(language), rate)
    heard = np.pad(mix(plan, None, load_cue_sounds(rate), words=words, rate_hz=rate).samples.mean(axis=1), around)
    spoken = [(t, s) for t, s in zip(plan.cues.time, plan.cues.sound, strict=True) if s.startswith("say")]
    assert {said for _, said in spoken} == {f"say {name}" for name in NUMBERS}
    for time, said in spoken:
        recorded, place = words[said.removeprefix("say ")]
        first = round(time * rate) - place
        piece = recorded.samples[: round(0.25 * rate), 0]
        found = correlate(heard[max(first, 0) : first + len(piece) + 2 * around], piece, "valid")
        assert abs(np.argmax(found) + max(first, 0) - around - first) / rate < 0.005, (language, said, time)


def test_a_count_that_nobody_recorded_is_clicked() -> None:
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=120, cycles=4, spoken=True))
    silent = coach.lay(coach.Request("clubs_mills", tempo_bpm=120, cycles=4, cues="none"))
    clicks = load_cue_sounds(RATE)
    lead_in = slice(0, round(silent.start * RATE) - RATE // 10)
    heard = mix(plan, None, clicks, words={}, rate_hz=RATE).samples[lead_in]
    alone = mix(silent, None, clicks, rate_hz=RATE).samples[lead_in]  # where less is lowered to stay below full scale
    np.testing.assert_allclose(heard / np.abs(heard).max(), alone / np.abs(alone).max(), atol=1e-5)

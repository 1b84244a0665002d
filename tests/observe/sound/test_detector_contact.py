"""Contacts, claps, feet and syllables in the music and cues that were played; the same sounds as others judge them."""

from functools import cache

import numpy as np
import pytest

from tempo_coach.live.mixing.mix import load_cue_sounds
from tempo_coach.music.files.sound import Sound
from tempo_coach.observe.observers import SOUNDS
from tempo_coach.observe.sound.detector import calibrate_detector, find_in_residual, find_onsets
from tempo_coach.observe.sound.kinds import make_detector
from tempo_coach.observe.sound.residual import RATE_HZ, Residual, remove_played
from tempo_coach.observe.take.clock import ClockLine
from tests.generators import contacts, hall

R = contacts.RATE_HZ
BEAT = 0.5


@cache
def played() -> np.ndarray:
    """A tune with a click on each count."""
    wave = 0.4 * hall.tune(2, 13, tempo_bpm=60 / BEAT, rate_hz=R)
    click = load_cue_sounds(R)["count"].samples[:, 0]
    for k in range(1, 24):
        wave[round(k * BEAT * R) :][: len(click)] += 0.5 * click
    return wave


@cache
def recorded(kind: str, count: int = 20) -> contacts.Recorded:
    """Sounds near the counts, as she does them: where music and clicks are loudest. A syllable every other count."""
    rng = np.random.default_rng(8)
    times = (np.arange(2, 22) * BEAT + rng.normal(0, 0.03, 20))[:count]
    return contacts.record(kind, played(), times[::2] if kind == "voice" else times, 6)


@cache
def left_over(kind: str, count: int = 20) -> Residual:
    """What is left of such a recording without the music."""
    return remove_played(sound(recorded(kind, count).recording), sound(played()), line())


def sound(wave: np.ndarray) -> Sound:
    return Sound(np.asarray(wave, np.float32)[:, np.newaxis], R)


def listen(kind: str, recording: np.ndarray, *, before: float = 0.25) -> np.ndarray:
    return find_onsets(sound(recording), make_detector(kind), played=sound(played()), line=line(before)).time


def line(before: float = 0.25) -> ClockLine:
    return ClockLine(before, 0.0, 1.0, 0.0, 2)


@pytest.mark.parametrize("kind", SOUNDS)
def test_every_sound_is_found_in_the_music_and_nothing_else(kind):
    made = recorded(kind)
    found = find_in_residual(left_over(kind), make_detector(kind)).time
    assert len(found) == len(made.onsets)
    off = 1000 * (found - made.onsets)
    # a contact is where it is within 3 ms; a vowel rises slowly, and its place is the middle of that
    assert np.quantile(np.abs(off), 0.95) < (9 if kind == "voice" else 3)
    assert abs(np.median(off)) < (5 if kind == "voice" else 1)


@pytest.mark.parametrize("kind", SOUNDS)
def test_music_and_cues_alone_are_no_onsets(kind):
    assert len(find_in_residual(left_over("clap", 0), make_detector(kind)).time) == 0


def test_a_recording_that_begins_earlier_moves_them_all():
    wave = recorded("contact").recording
    later = listen("contact", np.concatenate([np.zeros(R // 2), wave]), before=0.75)
    np.testing.assert_allclose(
        later - 0.5, find_in_residual(left_over("contact"), make_detector("contact")).time, atol=0.0005
    )


def test_a_quieter_recording_has_the_same_onsets():
    wave = recorded("clap").recording
    np.testing.assert_allclose(
        listen("clap", 0.02 * wave), find_in_residual(left_over("clap"), make_detector("clap")).time, atol=0.0005
    )


def test_one_sound_more_is_one_onset_more():
    rng = np.random.default_rng(1)
    wave = recorded("clap").recording.copy()
    extra = contacts.clap(rng)
    begin = round(6.5 * R)
    wave[begin : begin + len(extra)] += 0.1 * extra
    before, after = find_in_residual(left_over("clap"), make_detector("clap")).time, listen("clap", wave)
    assert len(after) == len(before) + 1
    assert np.abs(after - 6.5).min() < 0.001


def test_a_single_sound_is_found():
    found = listen("contact", recorded("contact", 1).recording)
    assert found == pytest.approx(recorded("contact", 1).onsets, abs=0.003)


@pytest.mark.parametrize("kind", SOUNDS)
@pytest.mark.parametrize("wave", [np.zeros(0), np.zeros(5), np.zeros(2 * R)], ids=["empty", "short", "silent"])
def test_silence_has_no_onsets(kind, wave):
    assert len(find_onsets(sound(wave), make_detector(kind)).time) == 0


def test_without_anything_played_the_sounds_are_found_in_the_quiet():
    _, sample = contacts.quiet_and_sample("clap", 3)
    assert find_onsets(sample, make_detector("clap")).time == pytest.approx([0.4, 1.0, 1.7, 2.3], abs=0.001)


@pytest.mark.parametrize("kind", SOUNDS)
def test_a_threshold_learned_from_a_quiet_and_a_sample_finds_the_same(kind):
    detector = calibrate_detector(make_detector(kind), *contacts.quiet_and_sample(kind, 4))
    assert detector.threshold is not None
    assert len(find_in_residual(left_over(kind), detector).time) == len(recorded(kind).onsets)


def test_a_sample_that_does_not_stand_out_is_refused():
    quiet, _ = contacts.quiet_and_sample("clap", 4)
    assert calibrate_detector(make_detector("clap"), quiet, quiet) is None


def test_what_follows_too_soon_is_an_echo():
    wave = 1e-3 * np.random.default_rng(0).normal(size=2 * R)
    strike = contacts.clap(np.random.default_rng(2))
    for time in (0.5, 0.59, 1.2):
        wave[round(time * R) :][: len(strike)] += 0.3 * strike
    assert find_onsets(sound(wave), make_detector("clap")).time == pytest.approx([0.5, 1.2], abs=0.001)
    assert len(find_onsets(sound(wave), make_detector("clap", closest=0.06)).time) == 3


def test_an_independent_finder_hears_the_same_claps():
    """librosa's onset_detect on the claps alone, within the 50 ms that mir_eval (MIREX) allows an onset."""
    import librosa
    import mir_eval

    made = contacts.record("clap", np.zeros(12 * R), np.arange(1, 20) * BEAT + 0.013, 7)
    found = find_onsets(sound(made.recording), make_detector("clap")).time
    theirs = librosa.onset.onset_detect(y=made.recording, sr=R, units="time", hop_length=256)
    theirs = theirs[theirs > 0.2]  # it takes the begin of the hiss for one
    f, _, _ = mir_eval.onset.f_measure(found, theirs, window=0.05)
    assert f == 1.0
    # theirs are frames of 5 ms after the rise: ours lie a constant few milliseconds earlier
    assert np.std(theirs - found) < 0.004


def among_others(seed: int, size: tuple[float, float], *, rings: float, noise: float) -> tuple[int, int]:
    """How many claps are found, and how many of her own 24 are not: three people clap up to 55 ms before her."""
    generator = np.random.default_rng(seed)
    own = 0.5 + 0.55 * np.arange(24)
    wave = noise * generator.standard_normal(round(14.5 * RATE_HZ))

    def clap(at: float, size: float, fades_in: float) -> None:
        fades = np.exp(-np.arange(RATE_HZ // 2) / (fades_in * RATE_HZ))
        first = round(at * RATE_HZ)
        wave[first : first + fades.size] += size * fades * generator.standard_normal(fades.size)

    for time in own.tolist():
        clap(time, generator.uniform(0.8, 1.2), 0.008)
        for _ in range(3):
            away = time - generator.uniform(0.015, 0.055)
            clap(away, generator.uniform(*size), 0.008)
            clap(away + 0.004, rings, 0.15)  # the hall
    found = find_in_residual(Residual(wave, np.zeros_like(wave)), make_detector("clap", nearest=True)).time
    return len(found), int((np.abs(found[:, None] - own).min(axis=0) > 0.006).sum())


def test_her_own_claps_are_the_loud_ones_where_others_clap_just_before_her() -> None:
    for noise in (0.001, 0.05):
        assert among_others(0, (0.3, 0.45), rings=0.03, noise=noise) == (24, 0)
    # what is left of loud music is no clap
    assert among_others(3, (0.3, 0.45), rings=0.03, noise=0.2) == (24, 0)
    # others hardly softer than herself, in a hall that rings: now and then one of theirs is taken for hers
    found, lost = np.sum([among_others(seed, (0.5, 0.7), rings=0.08, noise=0.001) for seed in range(3)], axis=0)
    assert found == 72 and lost <= 12

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.live.mixing.mix import CEILING, CUE_OVER_MUSIC_DB, cut_passage, load_cue_sounds, mix
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.music.files.sound import Sound
from tempo_coach.music.files.sound_file import write_sound
from tempo_coach.pattern.plan.layout import lay_out
from tempo_coach.pattern.plan.plan import Music
from tempo_coach.resources import find_shared
from tests.refused import refused

MUSIC = Music("/invented/music.wav", "0" * 64)


def loud_music(seconds=30.0, rate_hz=44_100, level=0.99):
    noise = np.random.default_rng(3).uniform(-level, level, (int(seconds * rate_hz), 2))
    return Sound(noise.astype(np.float32), rate_hz)


def beats_of(seconds=30.0):
    return CountMap(0.5 + 0.5 * np.arange(int(seconds * 2) - 1))


@pytest.mark.parametrize("rate_hz", [8000, 44_100, 48_000, 96_000])
def test_a_cues_first_sample_is_exactly_at_its_time(rate_hz):
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=97.3, cycles=12))
    sound = coach.cue_sound(plan, rate_hz=rate_hz)
    heard = np.abs(sound.samples).max(axis=1)
    for time in np.unique(plan.cues.time):
        first = round(time * rate_hz)
        assert heard[first] > 0
        if first > 0.13 * rate_hz and not ((plan.cues.time < time) & (plan.cues.time > time - 0.13)).any():
            assert heard[first - 1] == 0


def test_a_cue_reaches_its_height_within_five_milliseconds():
    for sound in load_cue_sounds(48_000).values():
        wave = np.abs(sound.samples[:, 0])
        assert np.argmax(wave) < 0.005 * 48_000
        assert wave[0] > 0


def test_the_cue_sounds_are_what_their_script_makes():
    import runpy

    import soundfile

    made = runpy.run_path(str(find_shared("sounds") / "make_sounds.py"))
    for name, recipe in made["SOUNDS"].items():
        stored, rate_hz = soundfile.read(find_shared("sounds") / f"{name}.wav")
        assert rate_hz == made["RATE_HZ"]
        np.testing.assert_allclose(stored, made["make_sound"](*recipe), atol=2 / 2**15)


def test_the_sum_never_clips_even_in_the_loudest_music():
    drill = coach.load_drill("rope_figure_eight")
    plan = lay_out(drill, beats_of(), music=MUSIC, from_eight=2, eights=4)
    mixed = mix(plan, cut_passage(plan, loud_music()), load_cue_sounds(44_100), rate_hz=44_100)
    assert np.abs(mixed.samples).max() <= CEILING + 1e-6


def test_a_cue_stands_over_the_music_in_its_own_octave_by_what_was_promised():
    plan = lay_out(coach.load_drill("rope_figure_eight"), beats_of(), music=MUSIC, from_eight=2, eights=4)
    quiet = loud_music(level=0.05)
    sounds = load_cue_sounds(44_100)
    passage = cut_passage(plan, quiet)
    mixed = mix(plan, passage, sounds, rate_hz=44_100).samples[:, 0]
    from scipy.signal import butter, sosfilt

    times = [t for t, s in zip(plan.cues.time, plan.cues.sound, strict=True) if s == "first_hand"]
    band = butter(2, (1400 / 2**0.5, 1400 * 2**0.5), btype="bandpass", fs=44_100, output="sos")
    cue = sosfilt(band, mixed - passage.samples[: len(mixed), 0])
    music = sosfilt(band, passage.samples[:, 0])
    over = []
    for time in times:
        k = round(time * 44_100)
        cue_rms = np.sqrt(np.mean(cue[k : k + 441] ** 2))
        music_rms = np.sqrt(np.mean(music[k - 8820 : k + 8820] ** 2))
        over.append(20 * np.log10(cue_rms / music_rms))
    assert np.median(over) >= CUE_OVER_MUSIC_DB - 1


def test_what_lies_outside_the_music_is_silence():
    plan = lay_out(coach.load_drill("clubs_mills"), beats_of(), music=MUSIC, from_eight=1, eights=1)
    passage = cut_passage(plan, loud_music())
    silent = round(-plan.pieces[0].music_start * 44_100)
    assert silent > 0
    assert not passage.samples[:silent].any()
    np.testing.assert_array_equal(passage.samples[silent : silent + 1000], loud_music().samples[:1000])


def test_left_sounds_from_the_left_and_right_from_the_right():
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=60, cycles=2))
    samples = coach.cue_sound(plan).samples
    for hand, near in (("left", 0), ("right", 1)):
        k = round(float(plan.moments.time[plan.moments.of_hand(hand)[-1]]) * 48_000)
        power = (samples[k : k + 2000] ** 2).sum(axis=0)
        if not np.isin(np.round(plan.cues.time * 48_000), [k]).sum() > 1:
            assert power[near] > 2 * power[1 - near]


def test_changed_music_is_noticed(tmp_path):
    path = tmp_path / "music.wav"
    write_sound(path, loud_music())
    from tempo_coach.resources import content_hash

    plan = lay_out(coach.load_drill("clubs_mills"), beats_of(), music=Music(str(path), content_hash(path)), eights=2)
    assert coach.cue_sound(plan).rate_hz == 44_100
    write_sound(path, loud_music(level=0.5), overwrite=True)
    with refused("changed since the plan"):
        coach.cue_sound(plan)


def test_slowed_music_has_its_cues_on_the_take_clock(tmp_path):
    path = tmp_path / "music.wav"
    write_sound(path, loud_music(level=0.1))
    from tempo_coach.resources import content_hash

    music = Music(str(path), content_hash(path))
    plan = lay_out(coach.load_drill("clubs_mills"), beats_of(), music=music, from_eight=2, eights=2, speed=0.8)
    sound = coach.cue_sound(plan)
    assert len(sound.samples) == round((plan.duration + 0.5) * 44_100)


def test_a_missing_cue_sound_is_said():
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100))
    with refused("cue sound count is missing"):
        mix(plan, None, {})


def test_more_sound_than_fits_into_memory_is_refused_before_it_is_made():
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=1600))
    with refused("this goes on for 32 minutes; up to 30 of sound are made at once"):
        coach.cue_sound(plan)

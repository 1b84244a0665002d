"""A recording made elsewhere is scored on the clock of the music in it; what cannot be used is said."""

import json

import numpy as np
import pytest
import soundfile

from tempo_coach import coach
from tempo_coach.cli import main
from tempo_coach.music.files.sound import Sound, resample
from tempo_coach.pattern.plan.plan_file import plan_to_dict
from tests.generators import contacts, films

R = contacts.RATE_HZ
BEFORE, PPM, LATE, SPREAD = 1.6, 60.0, 0.025, 0.012


@pytest.fixture(scope="module")
def gym(tmp_path_factory, music):
    """Folder of a plan for two hands and of what was heard: claps and syllables, 25 ms late, SD 12 ms."""
    folder = tmp_path_factory.mktemp("gym")
    plan = coach.lay(coach.Request("clubs_mills", music=str(music), from_eight=3, eights=2))
    (folder / "plan.json").write_text(json.dumps(plan_to_dict(plan)))
    played = coach.cue_sound(plan)
    wave = resample(Sound(played.mono()[:, None], played.rate_hz), R).samples[:, 0]
    done = plan.moments.time + LATE + SPREAD * np.random.default_rng(4).standard_normal(len(plan.moments))
    for kind in ("clap", "voice"):
        made = contacts.record(kind, wave, done, 3, before=BEFORE, ppm=PPM)
        soundfile.write(folder / f"{kind}.wav", made.recording, R)
    soundfile.write(folder / "music_alone.wav", contacts.record("clap", wave, done[:0], 3).recording, R)
    soundfile.write(folder / "silence.wav", np.zeros(5 * R), R)
    return folder


def score(folder, capsys, *more):
    assert main(["score", "--plan", str(folder / "plan.json"), *more, "--json"]) == 0
    caught = capsys.readouterr()
    return json.loads(caught.out), caught.err


def test_claps_of_two_hands_are_scored_on_the_clock_of_the_music(gym, capsys):
    card, said = score(gym, capsys, "--sound", str(gym / "clap.wav"), "--kind", "clap")
    assert card["observed_by"] == "clap"
    assert card["noise_floor_ms"] == pytest.approx(0.1, abs=0.1)
    assert card["missed"] == card["extra"] == 0
    assert card["bias_ms"] == pytest.approx(1000 * LATE, abs=5)
    assert card["spread_ms"] == pytest.approx(1000 * SPREAD, abs=3)
    assert {each["hand"] for each in card["cycles"]} == {"left", "right"}
    assert "3 ms for each metre" in said  # what this way of observing adds is said


def test_a_voice_is_placed_at_its_vowels_and_says_its_own_spread(gym, capsys):
    card, said = score(gym, capsys, "--sound", str(gym / "voice.wav"), "--kind", "voice")
    assert card["observed_by"] == "voice"
    assert card["noise_floor_ms"] > 2
    assert "rise of its vowel" in said
    # the generator's vowels rise half 50 to 95 ms behind its first sound, which was put on the moments
    assert card["bias_ms"] == pytest.approx(1000 * LATE + 71, abs=12)


def test_one_hand_alone_can_be_heard(gym, capsys):
    card, _ = score(gym, capsys, "--sound", str(gym / "clap.wav"), "--kind", "clap", "--of", "left")
    assert {each["hand"] for each in card["cycles"]} == {"left"}
    assert card["missed"] == 0


def test_a_clap_by_hand_places_it_about_and_the_music_exactly(gym, capsys):
    about = (str(BEFORE + 1.01), "1")
    card, _ = score(gym, capsys, "--sound", str(gym / "clap.wav"), "--kind", "clap", "--clap", *about)
    assert card["bias_ms"] == pytest.approx(1000 * LATE, abs=5)


def test_the_sound_of_a_film_does_it_too(gym, tmp_path, capsys):
    marker = films.Marker(films.RED, lambda t: np.column_stack([80 + 20 * np.sin(6 * t), 60 + 20 * np.cos(6 * t)]))
    wave, rate = soundfile.read(gym / "clap.wav", dtype="float32")
    times = films.steady_times(len(wave) / rate, 15)
    size = (160, 96)
    scene = films.Scene({"left": marker}, times, size)
    films.write_film(tmp_path / "take.mp4", films.pictures(scene), size=size, crf=30, sound=wave, rate_hz=rate)
    card, _ = score(gym, capsys, "--film", str(tmp_path / "take.mp4"), "--kind", "clap")
    assert card["observed_by"] == "clap"
    assert card["missed"] == card["extra"] == 0
    assert card["bias_ms"] == pytest.approx(1000 * LATE, abs=6)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--sound", "silence.wav"], "the music is not found in the sound"),
        (["--sound", "music_alone.wav"], "no contact is heard"),
        (["--sound", "nowhere.wav"], "there is no such file"),
        (["--sound", "plan.json"], "expected a sound file"),
        (["--sound", "clap.wav", "--of", "foot"], "expected a hand of the plan"),
        (["--sound", "clap.wav", "--clap", "900", "1"], "check the clap"),
        (["--sound", "clap.wav", "--quiet", "0-1"], "give both"),
        (["--sound", "clap.wav", "--quiet", "0-1", "--sample", "0-0.1"], "expected 0.3 s or more"),
        (["--sound", "clap.wav", "--quiet", "0-0.5", "--sample", "0.5-1"], "does not stand out"),
        (["--sound", "clap.wav", "--quiet", "x", "--sample", "1-2"], "12.0-13.5"),
        (["table.csv", "--sound", "clap.wav"], "expected a recording alone"),
        (["table.csv", "--kind", "clap"], "nothing is there to be listened to"),
    ],
)
def test_what_cannot_be_used_is_said_in_one_sentence(gym, monkeypatch, capsys, more, said):
    monkeypatch.chdir(gym)
    assert main(["score", "--plan", "plan.json", *more]) == 1
    err = capsys.readouterr().err
    assert said in err
    assert "Traceback" not in err

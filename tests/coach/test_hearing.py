"""Hearing a file: what is found in a click track, tapped, known, laid evenly; and each way in which it fails."""

from pathlib import Path

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.errors import CoachError
from tempo_coach.music.files.sound import Sound
from tempo_coach.music.files.sound_file import write_sound
from tempo_coach.report.words.errors import hint_of, message_of
from tests.refused import into, refused

RATE_HZ, LEAD, CLICKS = 22_050, 0.5, 20
BEATS = LEAD + 0.5 * np.arange(CLICKS)


def click_track() -> Sound:
    """Twenty clicks at 120 a minute, the first of every four higher and louder."""
    samples = np.zeros(int((LEAD + 0.5 * CLICKS) * RATE_HZ))
    seconds = np.arange(int(0.05 * RATE_HZ)) / RATE_HZ
    for k, beat in enumerate(BEATS):
        hertz, loud = (1600, 0.9) if k % 4 == 0 else (1000, 0.5)
        first = round(beat * RATE_HZ)
        samples[first : first + seconds.size] = loud * np.sin(2 * np.pi * hertz * seconds) * np.exp(-seconds / 0.012)
    return Sound(samples[:, None], RATE_HZ)


@pytest.fixture(scope="module")
def music(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("mit Größe 音") / "my music é.wav"
    write_sound(path, click_track())
    return path


@pytest.fixture
def silence(tmp_path: Path) -> Path:
    return write_silence(tmp_path / "nothing.wav", 6.0)


def write_silence(path: Path, seconds: float) -> Path:
    write_sound(path, Sound(np.zeros((int(seconds * RATE_HZ), 1)), RATE_HZ), overwrite=True)
    return path


def write_beats(path: Path, times: list[float]) -> Path:
    path.write_text("".join(f"{time}\n" for time in times))
    return path


def test_clicks_become_beats_counts_and_eights(music: Path) -> None:
    said: list[str] = []
    heard = coach.hear(music, warn=into(said))
    np.testing.assert_allclose(heard.beats.times, BEATS, atol=0.002)
    assert heard.beats.bar.tolist() == [1, 2, 3, 4] * 5
    np.testing.assert_array_equal(heard.counts.beats, heard.beats.times)
    assert heard.counts.eights == ((0, 8), (8, 8), (16, 8))
    assert (heard.path, said) == (str(music), [])
    assert heard.sound.duration == pytest.approx(LEAD + 0.5 * CLICKS)


def test_progress_is_told_up_to_the_whole(music: Path) -> None:
    """With a hint of its own, for the same music with the same hints is heard once in a run of the tests."""
    done: list[float] = []
    coach.hear(music, tempo_bpm=119, progress=done.append)
    assert done == sorted(done) and done[-1] == 1


def test_a_path_may_be_text(music: Path) -> None:
    np.testing.assert_array_equal(coach.hear(str(music)).beats.times, coach.hear(music).beats.times)


def test_hints_choose_the_level_the_bar_and_the_first_one(music: Path) -> None:
    assert np.diff(coach.hear(music, tempo_bpm=60).beats.times) == pytest.approx(1.0, abs=0.01)
    heard = coach.hear(music, meter=3, one_at=1.0)
    ones = heard.beats.times[heard.beats.bar == 1]
    assert heard.beats.bar.max() == 3
    assert ones[0] == pytest.approx(1.0, abs=0.01)
    assert np.diff(ones) == pytest.approx(1.5, abs=0.01)


@pytest.mark.parametrize("one_at", [-0.5, 1000.0])
def test_a_known_one_outside_the_music_is_refused_heard_before_or_not(music: Path, one_at: float) -> None:
    for _ in range(2):
        with refused("expected a second of the music, 0 to 10.5"):
            coach.hear(music, one_at=one_at)
        coach.hear(music)


def test_a_hint_that_the_music_does_not_bear_out_is_told(music: Path) -> None:
    said: list[str] = []
    coach.hear(music, tempo_bpm=125, meter=4, warn=into(said))
    coach.hear(music, tempo_bpm=60, meter=4, warn=into(said))
    assert said == []
    coach.hear(music, tempo_bpm=150, warn=into(said))
    [told] = said
    assert told.startswith("--tempo: no beat of 150 a minute is heard, the nearest goes at 120")


def test_a_hint_that_few_sounds_bear_out_is_told_with_the_tempo_that_is_heard(tmp_path: Path) -> None:
    """Two of three beats at 180 fall on faint triplets between the clicks at 120."""
    samples = np.array(click_track().samples)
    faint = np.zeros_like(samples)
    for third in (1, 2):
        away = round(third / 6 * RATE_HZ)
        faint[away:] += samples[:-away]
    sound = tmp_path / "triplets.wav"
    write_sound(sound, Sound(samples + 0.2 * faint, RATE_HZ))
    said: list[str] = []
    coach.hear(sound, tempo_bpm=180, warn=into(said))
    [told] = said
    assert told.startswith("--tempo: 180 a minute is counted, few of whose counts are heard")
    assert "seems to go at 120" in told


def test_taps_steer_and_the_music_puts_them_right(music: Path, tmp_path: Path) -> None:
    late = (BEATS + 0.04).tolist()
    heard = coach.hear(music, taps=write_beats(tmp_path / "my taps.txt", late))
    np.testing.assert_allclose(heard.beats.times, BEATS, atol=0.01)


def test_known_beats_stand_as_they_are_and_taps_go_before_them(music: Path, tmp_path: Path) -> None:
    off = (BEATS[:10] + 0.123).round(3).tolist()
    known = write_beats(tmp_path / "my beats.txt", off)
    heard = coach.hear(music, known=known, meter=5, one_at=off[1])
    assert heard.beats.times.tolist() == off
    assert heard.beats.bar.tolist() == [5, 1, 2, 3, 4] * 2
    both = coach.hear(music, known=known, taps=write_beats(tmp_path / "taps.txt", BEATS.tolist()))
    np.testing.assert_allclose(both.beats.times, BEATS, atol=0.01)


def test_a_list_of_beats_is_the_same_whether_it_is_told_as_text_or_heard(music: Path, tmp_path: Path) -> None:
    heard = coach.hear(music)
    told = coach.hear(music, known=write_beats(tmp_path / "beats.txt", heard.beats.times.tolist()))
    np.testing.assert_array_equal(told.counts.beats, heard.counts.beats)
    assert told.counts.eights == heard.counts.eights


def test_music_without_a_beat_is_refused(silence: Path) -> None:
    with pytest.raises(CoachError) as caught:
        coach.hear(silence)
    assert message_of(caught.value) == "no beat was found in the music"
    assert (caught.value.where, hint_of(caught.value)) == (str(silence), "tap along once, or set the counts by hand")


@pytest.mark.parametrize(("asked", "bpm"), [(None, 100.0), (80.0, 80.0)])
def test_or_gets_even_counts_anyway_and_that_is_said(silence: Path, asked: float | None, bpm: float) -> None:
    assert coach.EVEN_BPM == 100
    said: list[str] = []
    heard = coach.hear(silence, tempo_bpm=asked, meter=3, anyway=True, warn=into(said))
    np.testing.assert_allclose(heard.beats.times, np.arange(0.0, 6.0, 60 / bpm))
    assert heard.beats.bar[:4].tolist() == [1, 2, 3, 1]
    evenly = f"counts are laid evenly at {bpm:g} a minute, to be put right by hand."
    assert said == [f"{silence}: no beat was found in the music; {evenly}"]
    told_nobody = coach.hear(silence, tempo_bpm=asked, meter=3, one_at=60 / bpm, anyway=True)
    assert told_nobody.beats.bar[:4].tolist() == [3, 1, 2, 3]


@pytest.mark.parametrize(("seconds", "counted"), [(1.99, False), (2.0, True)])
def test_sound_that_is_much_too_short_gets_none_even_so(tmp_path: Path, seconds: float, counted: bool) -> None:
    assert coach.MUCH_TOO_SHORT == 2
    path = write_silence(tmp_path / "short.wav", seconds)
    if counted:
        assert coach.hear(path, anyway=True).beats.times.size == 4
        return
    with refused("no beat was found in the music"):
        coach.hear(path, anyway=True)


@pytest.mark.parametrize("anyway", [False, True])
@pytest.mark.parametrize(
    ("hints", "where", "message"),
    [
        ({"tempo_bpm": 5}, "--tempo", "expected a tempo of 40 to 240 beats a minute, got 5"),
        ({"meter": 1}, "--meter", "expected 2 to 12 beats a bar, got 1"),
    ],
)
def test_a_hint_out_of_its_range_is_no_music_without_a_beat(
    music: Path, hints: dict[str, int], where: str, message: str, anyway: bool
) -> None:
    with pytest.raises(CoachError) as caught:
        coach.hear(music, anyway=anyway, **hints)  # type: ignore[arg-type]  # a hint each
    assert (caught.value.where, message_of(caught.value)) == (where, message)


@pytest.mark.parametrize("anyway", [False, True])
@pytest.mark.parametrize("way", ["taps", "known"])
def test_a_list_that_cannot_be_read_is_named_with_its_line(music: Path, tmp_path: Path, way: str, anyway: bool) -> None:
    path = tmp_path / "my list.txt"
    path.write_text("1.0\nhello\n")
    with pytest.raises(CoachError) as caught:
        coach.hear(music, anyway=anyway, **{way: path})  # type: ignore[arg-type]  # one of the two
    assert message_of(caught.value) == "expected a time in seconds, got 'hello'"
    assert caught.value.where == f"{path}:2"
    path.write_text("1.0\n99\n")
    with refused(r"expected a time inside the music of 10\.50 s, got 99"):
        coach.hear(music, anyway=anyway, **{way: path})  # type: ignore[arg-type]  # one of the two


@pytest.mark.parametrize("anyway", [False, True])
def test_one_known_beat_is_too_few_and_its_file_is_named_not_the_music(
    music: Path, tmp_path: Path, anyway: bool
) -> None:
    path = write_beats(tmp_path / "one beat.txt", [1.0])
    with pytest.raises(CoachError) as caught:
        coach.hear(music, known=path, anyway=anyway)
    assert message_of(caught.value) == "expected two or more beats, got 1"
    assert caught.value.where == str(path)


def test_too_few_taps_are_said(music: Path, tmp_path: Path) -> None:
    with refused("expected at least 4 taps inside the music, got 1"):
        coach.hear(music, taps=write_beats(tmp_path / "taps.txt", [1.0]), anyway=True)


def test_what_is_no_sound_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(CoachError) as caught:
        coach.hear(tmp_path / "gone.wav", anyway=True)
    assert caught.value.where == str(tmp_path / "gone.wav")
    (tmp_path / "text.wav").write_text("this is no sound")
    with pytest.raises(CoachError) as caught:
        coach.hear(tmp_path / "text.wav", anyway=True)
    assert caught.value.where == str(tmp_path / "text.wav")


def test_the_music_of_a_plan_is_read_while_it_is_the_same(tmp_path: Path) -> None:
    path = tmp_path / "my music.wav"
    write_sound(path, click_track())
    plan = coach.lay(coach.Request("clubs_mills", music=str(path), eights=1))
    assert coach.read_music(plan).duration == pytest.approx(LEAD + 0.5 * CLICKS)
    write_silence(path, 12.0)
    with pytest.raises(CoachError) as caught:
        coach.read_music(plan)
    assert message_of(caught.value) == "the music has changed since the plan was made"
    assert caught.value.where == str(path.resolve())
    assert hint_of(caught.value) == "make the plan again, or bring the old file back"
    path.unlink()
    with pytest.raises(CoachError) as caught:
        coach.read_music(plan)
    assert caught.value.where == str(path.resolve())


def test_a_plan_without_music_has_none_to_be_read() -> None:
    with pytest.raises(ValueError, match="the plan has no music"):
        coach.read_music(coach.lay(coach.Request("clubs_mills", cycles=2)))

"""Sound files: what is read back is what was written, and every wrong file gets one plain sentence."""

import io
import zipfile
from types import SimpleNamespace

import numpy as np
import pytest
import soundfile

from tempo_coach.music.files import blocks, sound, sound_file
from tempo_coach.music.files.sound import Sound
from tempo_coach.music.files.sound_file import read_sound, write_sound
from tempo_coach.report.words.errors import say_error
from tests.refused import into, refused

RATE_HZ = 22_050


@pytest.fixture
def hum():
    seconds = np.arange(2 * RATE_HZ) / RATE_HZ
    return Sound(0.5 * np.stack([np.sin(440 * seconds), np.cos(300 * seconds)], axis=1), RATE_HZ)


@pytest.mark.parametrize(("name", "tolerance"), [("a.wav", 4e-5), ("a.flac", 4e-5), ("a.ogg", 0.05)])
def test_what_is_written_is_read_back(tmp_path, hum, name, tolerance):
    write_sound(tmp_path / name, hum)
    back = read_sound(tmp_path / name)
    assert back.rate_hz == hum.rate_hz
    assert back.samples.shape == hum.samples.shape
    assert np.abs(back.samples - hum.samples).max() < tolerance
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_samples_beyond_full_scale_are_clipped_and_never_wrapped(tmp_path):
    write_sound(tmp_path / "loud.wav", Sound(np.array([[1.5], [-1.5]]), RATE_HZ))
    assert np.allclose(read_sound(tmp_path / "loud.wav").samples[:, 0], [1, -1], atol=1e-4)


@pytest.mark.parametrize(
    ("form", "subtype", "rate_hz"), [("MP3", None, 44_100), ("OGG", "OPUS", 48_000), ("WAV", "FLOAT", 8000)]
)
def test_a_file_is_known_by_its_content_and_not_by_its_name(tmp_path, form, subtype, rate_hz):
    path = tmp_path / "misnamed.txt"
    soundfile.write(path, np.sin(np.arange(rate_hz) / 20), rate_hz, format=form, subtype=subtype)
    assert abs(read_sound(path).duration - 1) < 0.06


def test_an_existing_file_is_kept_unless_told_otherwise(tmp_path, hum):
    path = tmp_path / "a.wav"
    path.write_text("mine")
    with refused("exists and is not overwritten"):
        write_sound(path, hum)
    assert path.read_text() == "mine"
    write_sound(path, hum, overwrite=True)
    assert read_sound(path).duration == 2


@pytest.mark.parametrize(("name", "words"), [("a.wave", r"did you mean \.wav"), ("no/a.wav", "no such folder")])
def test_a_place_that_cannot_be_written_is_named(tmp_path, hum, name, words):
    with refused(words):
        write_sound(tmp_path / name, hum)


def zip_bytes():
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w") as archive:
        archive.writestr("a", "b")
    return data.getvalue()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"beats of eight\n" * 9, "got text"),
        ("Zählzeiten ".encode() * 500, "got text"),
        (b"\x89PNG\r\n\x1a\n" + bytes(99), "picture"),
        (b"\xff\xd8\xff\xe0\x00\x10JFIF" + bytes(99), "picture"),
        (b"\x00\x00\x00\x20ftypisom" + bytes(99), "MPEG-4"),
        (b"\x1aE\xdf\xa3" + bytes(99), "video"),
        (b"RIFF\x00\x10\x00\x00AVI " + bytes(99), "video"),
        (b"OggS\x00\x02" + bytes(22) + b"\x80theora" + bytes(99), "video"),
        (b"\xff\xf1\x50\x80" + bytes(99), "AAC"),
        (b"MThd" + bytes(99), "MIDI"),
        (zip_bytes(), "zip"),
        (np.random.default_rng(2).bytes(5000), "unknown kind"),
        (b"RIFF\x00\x10\x00\x00WAVE", "cut short"),
        (b"fLaC\x00\x00\x00\x22" + bytes(20), "damaged or cut short"),
        (b"OggS\x00", "cut short"),
    ],
)
def test_what_is_not_sound_gets_one_sentence(tmp_path, content, words):
    path = tmp_path / "music.mp3"
    path.write_bytes(content)
    with refused(words) as caught:
        read_sound(path)
    assert str(path) in say_error(caught.value)


def test_a_missing_file_and_a_folder_are_named(tmp_path):
    with refused("no such file; check the name"):
        read_sound(tmp_path / "gone.wav")
    with refused("folder"):
        read_sound(tmp_path)


def test_a_flac_that_does_not_know_its_length_is_read_to_its_end(tmp_path):
    """RFC 9639, 8.2: a total of 0 samples, the 36 bits before the checksum of STREAMINFO, means that it is unknown."""
    hum = Sound(np.sin(np.arange(20_000) / 9.0)[:, None].astype(np.float32) / 2, 44_100)
    write_sound(tmp_path / "a.flac", hum)
    raw = bytearray((tmp_path / "a.flac").read_bytes())
    raw[21] &= 0xF0
    raw[22:26] = bytes(4)
    (tmp_path / "b.flac").write_bytes(raw)
    np.testing.assert_array_equal(read_sound(tmp_path / "b.flac").samples, read_sound(tmp_path / "a.flac").samples)
    assert len(read_sound(tmp_path / "b.flac", start=0.1, end=0.2).samples) == 4410


@pytest.mark.parametrize("name", ["a.wav", "a.flac", "a.ogg"])
@pytest.mark.parametrize("part", [0.3, 0.9])
def test_a_file_cut_short_is_an_error(tmp_path, hum, name, part):
    write_sound(tmp_path / name, hum)
    whole = (tmp_path / name).read_bytes()
    (tmp_path / name).write_bytes(whole[: int(len(whole) * part)])
    with refused("cut short"):
        read_sound(tmp_path / name)


def test_an_mp3_cut_short_is_read_with_a_warning(tmp_path, hum, capfd):
    path = tmp_path / "a.mp3"
    soundfile.write(path, np.tile(hum.samples, (5, 1)), RATE_HZ, format="MP3")
    heard = []
    assert read_sound(path, warn=into(heard)).duration == pytest.approx(10, abs=0.06)
    assert heard == []
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    assert 4 < read_sound(path, warn=into(heard)).duration < 6
    assert capfd.readouterr().err == ""
    assert len(heard) == 1
    assert "10.0 s" in heard[0]


def test_a_sound_file_without_samples_is_an_error(tmp_path):
    soundfile.write(tmp_path / "none.wav", np.zeros((0, 1)), RATE_HZ)
    with refused("no sound"):
        read_sound(tmp_path / "none.wav")


def test_samples_that_are_no_numbers_are_an_error(tmp_path):
    soundfile.write(tmp_path / "nan.wav", np.array([0, np.nan, 0]), RATE_HZ, subtype="FLOAT")
    with refused("not numbers"):
        read_sound(tmp_path / "nan.wav")


def test_long_sound_is_mapped_and_reads_the_same(tmp_path, hum, monkeypatch):
    write_sound(tmp_path / "a.flac", hum)
    plain = read_sound(tmp_path / "a.flac")
    monkeypatch.setattr(blocks, "MAPPED_FROM", 0)
    mapped = read_sound(tmp_path / "a.flac")
    assert isinstance(mapped.samples, np.memmap)
    assert (mapped.samples == plain.samples).all()


def test_a_rate_that_no_music_has_is_said(tmp_path):
    soundfile.write(tmp_path / "slow.wav", np.zeros(1000), 1000)
    with refused(r"slow\.wav: expected a usual sample rate, got 1000 Hz"):
        read_sound(tmp_path / "slow.wav")


@pytest.mark.parametrize(("form", "subtype"), [("WAV", "PCM_16"), ("FLAC", "PCM_16"), ("OGG", "VORBIS"), ("MP3", None)])
@pytest.mark.parametrize(("start", "end"), [(None, 2.5), (6.25, None), (3.5, 4.75), (0.0, 99.0)])
def test_a_part_is_what_the_whole_has_there(tmp_path, form, subtype, start, end):
    path = tmp_path / "a.sound"
    noise = np.random.default_rng(1).uniform(-0.5, 0.5, (10 * RATE_HZ, 2))
    soundfile.write(path, noise, RATE_HZ, format=form, subtype=subtype)
    whole = read_sound(path)
    part = read_sound(path, start=start, end=end)
    first, last = round((start or 0) * RATE_HZ), round((end or 99) * RATE_HZ)
    np.testing.assert_allclose(part.samples, whole.samples[first:last], atol=2e-3 if form == "MP3" else 0)


def test_what_goes_on_for_hours_is_refused_before_it_is_read_and_a_part_of_it_is_not(tmp_path, monkeypatch):
    path = tmp_path / "long.flac"
    with soundfile.SoundFile(path, "w", 4000, 1, format="FLAC") as file:
        for _ in range(61):
            file.write(np.zeros(60 * 4000, np.float32))
    read = []
    monkeypatch.setattr(sound_file, "_read_frames", lambda *args, **_: read.append(args))
    with refused("goes on for 61 minutes; up to 60 are read at once; take the part"):
        read_sound(path)
    assert read == []
    monkeypatch.undo()
    assert read_sound(path, start=3600).duration == 60
    with refused(r"the sound ends at 3660\.0 s, before the part begins"):
        read_sound(path, start=3660)


def test_many_channels_are_too_much_sooner(tmp_path, monkeypatch):
    soundfile.write(tmp_path / "many.wav", np.zeros((RATE_HZ, 16)), RATE_HZ)
    monkeypatch.setattr(sound, "MOST_BYTES", RATE_HZ * 4 * 15)
    with refused("are read at once"):
        read_sound(tmp_path / "many.wav")


def test_the_share_that_is_read_is_told(tmp_path, hum):
    write_sound(tmp_path / "a.wav", Sound(np.tile(hum.samples, (20, 1)), hum.rate_hz))
    shares = []
    read_sound(tmp_path / "a.wav", progress=shares.append)
    assert len(shares) > 2
    assert shares == sorted(shares)
    assert shares[-1] == 1


@pytest.mark.parametrize("doing", ["_open", "write"])
def test_a_full_disk_is_said_while_sound_is_written(tmp_path, hum, monkeypatch, doing):
    def fail(*_):
        raise soundfile.LibsndfileError(2)  # "System error.", which is all that it knows of a full disk

    monkeypatch.setattr(soundfile.SoundFile, doing, fail)
    monkeypatch.setattr(sound_file.shutil, "disk_usage", lambda _: SimpleNamespace(free=4096))
    with refused("No space left on device"):
        write_sound(tmp_path / "a.wav", hum)
    monkeypatch.setattr(sound_file.shutil, "disk_usage", lambda _: SimpleNamespace(free=1 << 30))
    with refused("System error"):
        write_sound(tmp_path / "a.wav", hum)
    assert list(tmp_path.iterdir()) == []

import json

import numpy as np
import pytest
import soundfile

from tempo_coach.cli import main


def test_the_counts_of_invented_music_are_heard_through_its_slowing_and_its_pause(music, invented, capsys):
    assert main(["listen", str(music), "--json"]) == 0
    heard = json.loads(capsys.readouterr().out)
    assert list(heard) == [
        "file", "duration", "tempo_bpm", "beats", "bar", "counts", "eights", "confidence", "doubtful",
    ]  # fmt: skip
    beats = np.array(heard["beats"])
    # one more beat may be heard while the last note dies away; none before it
    assert invented.beats.size <= beats.size <= invented.beats.size + 1
    error = beats[: invented.beats.size] - invented.beats
    assert np.median(np.abs(error)) < 0.005
    assert np.abs(error.mean()) < 0.005
    assert heard["counts"][:9] == [1, 2, 3, 4, 5, 6, 7, 8, 1]
    assert heard["bar"][:5] == [1, 2, 3, 4, 1]
    assert heard["eights"][:2] == [[0, 8], [8, 8]]
    assert heard["duration"] == pytest.approx(invented.sound.duration)
    assert all(0 <= each <= 1 for each in heard["confidence"])


def test_beats_are_written_as_seconds_tab_position_in_the_bar_and_nothing_is_overwritten(music, tmp_path, capsys):
    out = tmp_path / "beats.txt"
    assert main(["listen", str(music), "--beats", str(out)]) == 0
    told = capsys.readouterr().out
    assert "eights" in told and "beats a minute" in told and "pauses" in told
    import mir_eval

    times, bar = mir_eval.io.load_labeled_events(str(out))
    assert len(times) in (144, 145)
    assert list(bar[:5]) == ["1", "2", "3", "4", "1"]
    before = out.read_bytes()
    assert main(["listen", str(music), "--beats", str(out)]) == 1
    assert "not overwritten" in capsys.readouterr().err
    assert out.read_bytes() == before
    assert main(["listen", str(music), "--beats", str(out), "--force"]) == 0


@pytest.mark.parametrize(
    ("content", "name"),
    [
        (b"", "empty.wav"),
        (b"RIFF", "short.wav"),
        (b"hello, this is text\n" * 50, "text.mp3"),
        (b"\x89PNG\r\n\x1a\n" + bytes(500), "picture.flac"),
        (b"\x00\x00\x00\x18ftypmp42" + bytes(500), "film.wav"),
    ],
)
def test_what_is_no_sound_is_said_in_one_sentence(content, name, tmp_path, capsys):
    path = tmp_path / name
    path.write_bytes(content)
    assert main(["listen", str(path)]) == 1
    caught = capsys.readouterr()
    assert caught.out == ""
    assert name in caught.err
    assert "Traceback" not in caught.err


def test_a_missing_file_and_an_impossible_tempo_are_said(music, capsys):
    assert main(["listen", "gone.wav"]) == 1
    assert "gone.wav" in capsys.readouterr().err
    for tempo in ("0", "1000"):
        assert main(["listen", str(music), "--tempo", tempo]) == 1
        assert "beats a minute" in capsys.readouterr().err


def test_tapping_along_once_gives_the_beats_of_the_music(music, invented, tmp_path, capsys):
    generator = np.random.default_rng(11)
    taps = invented.beats - 0.025 + generator.normal(0, 0.035, invented.beats.size)
    file = tmp_path / "taps.txt"
    file.write_text("".join(f"{tap:.3f}\n" for tap in taps.clip(0)))
    assert main(["listen", str(music), "--taps", str(file), "--json"]) == 0
    beats = np.array(json.loads(capsys.readouterr().out)["beats"])
    assert beats.size == invented.beats.size
    assert np.median(np.abs(beats - invented.beats)) < 0.008


def test_bad_lines_of_taps_are_said_before_the_music_is_searched(music, tmp_path, capsys):
    file = tmp_path / "taps.txt"
    file.write_text("1.0\n0.5\n-3\n500\n")
    assert main(["listen", str(music), "--taps", str(file)]) == 1
    said = capsys.readouterr().err
    assert "taps.txt:2" in said and "taps.txt:3" in said and "taps.txt:4" in said


def test_beats_leave_as_midi_and_come_back_as_they_were(music, invented, tmp_path, capsys):
    out = tmp_path / "beats.mid"
    assert main(["listen", str(music), "--midi", str(out)]) == 0
    capsys.readouterr()
    assert main(["listen", str(music), "--known", str(out), "--json"]) == 0
    heard = json.loads(capsys.readouterr().out)
    assert np.median(np.abs(np.array(heard["beats"])[: invented.beats.size] - invented.beats)) < 0.005
    assert main(["listen", str(music), "--midi", str(out)]) == 1
    assert "not overwritten" in capsys.readouterr().err


def test_a_part_of_a_long_recording_is_music_of_its_own(music, invented, tmp_path, capsys):
    part = tmp_path / "part.flac"
    assert main(["listen", str(music), "--from", "10", "--to", "40", "--cut", str(part), "--json"]) == 0
    heard = json.loads(capsys.readouterr().out)
    assert heard["duration"] == pytest.approx(30)
    inside = invented.beats[(invented.beats > 10.3) & (invented.beats < 39.7)] - 10
    near = np.abs(np.array(heard["beats"])[:, None] - inside).min(axis=0)
    assert np.median(near) < 0.01
    whole, rate_hz = soundfile.read(music)
    samples, _ = soundfile.read(part)
    np.testing.assert_allclose(samples, whole[10 * rate_hz : 40 * rate_hz], atol=1e-4)


def test_a_part_without_beats_is_cut_all_the_same(tmp_path, capsys):
    soundfile.write(tmp_path / "talk.wav", np.zeros(20 * 8000), 8000)
    part = tmp_path / "part.wav"
    assert main(["listen", str(tmp_path / "talk.wav"), "--to", "5", "--cut", str(part)]) == 1
    assert "no beat was found" in capsys.readouterr().err
    assert soundfile.info(part).duration == 5


@pytest.mark.parametrize(
    ("options", "said", "code"),
    [
        (("--from", "5", "--to", "5"), "--from: expected a part that ends after it begins, got 5 to 5 s", 2),
        (("--from", "-1"), "--from: expected a part that ends after it begins, got -1 to its end", 2),
        (("--from", "500"), "before the part begins", 1),
        (("--cut", "part.aiff"), "expected a name that ends in .wav, .flac, .ogg", 1),
    ],
)
def test_a_part_that_is_none_is_said(music, tmp_path, monkeypatch, options, said, code, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["listen", str(music), *options]) == code
    assert said in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []

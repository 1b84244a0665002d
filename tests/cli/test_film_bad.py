"""Films that cannot be used as they are: each in one sentence, with what to do next."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from tempo_coach.cli import main
from tests.generators import films

SIZE = (160, 96)
TIMES = films.steady_times(2, 30)
CLUB = films.Marker(films.RED, films.turning(lambda t: t / 0.6, (80, 45), 30), 5.0)
NOISE = 0.1 * np.random.default_rng(1).standard_normal(8 * 48_000).astype(np.float32)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("films")

    def write(name, times=TIMES, **how):
        scene = films.Scene({"club": CLUB}, times, SIZE)
        return films.write_film(folder / name, films.pictures(scene), size=SIZE, crf=18, **how)

    write("good.mp4", sound=NOISE)
    write("silent.mp4")
    write("one_picture.mp4", TIMES[:1])
    write("hours.mkv", np.append(TIMES, 36_000.0))
    write("slow.mp4", metadata={"com.android.capture.fps": "240"}, sound=NOISE)
    for ending in ("mp4", "mkv"):
        content = write(f"whole.{ending}").read_bytes()
        (folder / f"cut.{ending}").write_bytes(content[: len(content) // 2])
    films.write_sound_only(folder / "sound.m4a", NOISE)
    cv2.imwrite(str(folder / "still.jpg"), np.zeros((96, 160, 3), np.uint8))
    (folder / "empty.mov").write_bytes(b"")
    assert main(["cue", "clubs_mills", "--tempo", "100", "--cycles", "2", "--out", str(folder / "cues.wav"),
                 "--plan", str(folder / "plan.json")]) == 0  # fmt: skip
    return folder


SAID = {
    "film still.jpg": """still.jpg: expected a film or its sound (mp4, mov, m4a, aac, mkv or webm), got a picture
        (JPEG); choose the film itself.""",
    "film one_picture.mp4": """one_picture.mp4: expected a film, found but one picture in it; choose another film or
        stretch of it.""",
    "film sound.m4a": "sound.m4a: the file has sound and no moving picture; choose the film itself.",
    "film cut.mp4": """cut.mp4: this is an MPEG-4 file (m4a, mp4 or mov) that is damaged or cut short; copy it again
        from the phone.""",
    "film empty.mov": "empty.mov: the file is empty; copy it again from where it came.",
    "film hours.mkv": """hours.mkv: the film is 600 minutes long; up to 30 are read at once; choose the take with
        --film-from and --film-to, in seconds.""",
    "film good.mp4 --marker left=green": """good.mp4: nothing green that moves was seen in the film; what is coloured
        and moves: red.""",
    "film good.mp4 --marker left=gren": """--marker: expected a colour (red, orange, yellow, green, turquoise, blue,
        purple, pink, white), got gren; did you mean green?""",
    "film good.mp4 --marker left=red --marker right=red": """--marker: the marker right (red) was never seen moving;
        check its colour, or leave the marker out.""",
    "score --film good.mp4 --plan plan.json --marker right=red": """good.mp4: the music is not found in the
        sound; check that it is the right music and speed, and that it can be heard; or give a clap by hand.""",
    "score --film silent.mp4 --plan plan.json --marker right=red": """silent.mp4: the film has no sound to put on the
        music; give a clap by hand: --clap ON_FILM ON_TAKE.""",
    "score --film slow.mp4 --plan plan.json --marker right=red": """slow.mp4: a film in slow motion has no sound that
        could be put on the music; give a clap by hand: --clap ON_FILM ON_TAKE.""",
}


@pytest.mark.parametrize("words", SAID)
def test_what_cannot_be_used_is_said_in_one_sentence(folder, monkeypatch, capsys, words):
    monkeypatch.chdir(folder)
    assert main(words.split()) == 1
    caught = capsys.readouterr()
    assert caught.out == ""
    said = [line for line in caught.err.splitlines() if not line.endswith("…")]
    assert said == ["tempo-coach: " + " ".join(SAID[words].split())]


def test_a_film_cut_short_is_followed_as_far_as_it_goes(folder, monkeypatch, capsys):
    monkeypatch.chdir(folder)
    assert main(["film", "cut.mkv", "--marker", "club=red"]) == 0
    caught = capsys.readouterr()
    assert caught.err.startswith("tempo-coach: cut.mkv: the film is cut short: it announces 2.0 s, ")
    assert "could be read." in caught.err
    assert "club (red): seen in" in caught.out


def test_a_window_of_a_film_of_hours_is_read(folder, monkeypatch, capsys):
    monkeypatch.chdir(folder)
    assert main(["film", "hours.mkv", "--film-from", "0", "--film-to", "20", "--marker", "red"]) == 0
    assert "60 pictures followed" in capsys.readouterr().out


def test_slow_motion_is_said_and_its_pictures_are_timed_as_they_were_taken(folder, monkeypatch, capsys):
    monkeypatch.chdir(folder)
    assert main(["film", "slow.mp4", "--marker", "club=red"]) == 0
    caught = capsys.readouterr()
    assert "taken at 240 frames a second" in caught.err and "--slowed 1" in caught.err
    assert "240 pictures a second: one every 4 ms" in caught.out

"""The command film: a table, a page to look at, and what it says of bad input."""

import json
import re

import numpy as np
import pytest

from tempo_coach.cli import main
from tempo_coach.observe.film.frames import look_at_film, read_frames
from tempo_coach.observe.trace.tables import read_trace
from tests.generators import films

SIZE = (320, 192)
TIMES = films.steady_times(5, 60)
LEFT = films.turning(lambda t: t / 0.6, (110, 90), 50)


@pytest.fixture(scope="module")
def film(tmp_path_factory):
    scene = films.Scene(
        {
            "left": films.Marker(films.RED, LEFT, hidden=((1.0, 1.3),)),
            "right": films.Marker(films.BLUE, films.turning(lambda t: t / 0.6 - 0.5, (210, 90), 50, -1)),
        },
        TIMES,
        SIZE,
    )
    path = tmp_path_factory.mktemp("film") / "mills.mp4"
    return films.write_film(path, films.pictures(scene), size=SIZE, crf=18)


def test_markers_become_a_table_that_other_commands_read(film, tmp_path, capsys):
    out = tmp_path / "mills.csv"
    assert main(["film", str(film), "--marker", "left=red", "--marker", "right=blue", "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert "left (red): seen in" in said and "a gap of" in said and "right (blue)" in said
    trace = read_trace(out)
    assert {"left", "right"} <= set(trace.points)
    assert np.abs(trace.time - TIMES).max() < 1e-4
    words = ["--point", "left", "--against", "right", "--from", "1.3", "--json"]
    assert main(["trace", str(out), *words]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["period_s"] == pytest.approx(0.6, abs=0.005)
    assert abs(found["lags"][0]["deg"]) == pytest.approx(180, abs=1)
    assert main(["film", str(film), "--out", str(out)]) == 1
    assert "not overwritten" in capsys.readouterr().err


def test_json_tells_what_was_seen(film, capsys):
    assert main(["film", str(film), "--marker", "red", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["film"]["pictures"] == len(TIMES)
    (marker,) = found["markers"]
    assert (marker["name"], marker["colour"]) == ("red", "red")
    assert 0.9 < marker["seen"] < 0.96
    assert [[pytest.approx(a, abs=0.03) for a in gap] for gap in marker["gaps"]] == [[1.0, 1.3]]


def test_the_page_shows_a_picture_a_cycle_and_where_nothing_was_seen(film, tmp_path):
    page = tmp_path / "look.html"
    assert main(["film", str(film), "--marker", "left=red", "--check", str(page)]) == 0
    text = page.read_text(encoding="utf-8")
    assert text.count("data:image/jpeg;base64,") >= 3
    assert "left lost for a while" in text
    assert "Delete it" in text
    assert not re.search(r'(src|href)="(?!data:)', text)  # nothing is loaded from anywhere


def test_the_film_to_look_at_has_the_paths_in_it_at_the_films_own_times(film, tmp_path, capsys):
    look = tmp_path / "look.mp4"
    assert main(["film", str(film), "--marker", "left=red", "--check", str(look)]) == 0
    shown = look_at_film(look)
    assert shown.height > SIZE[1] and not shown.has_sound  # a row under the picture, and nothing that was said
    frames = list(read_frames(shown))
    assert [frame.time for frame in frames] == pytest.approx(TIMES, abs=1e-4)
    own = list(read_frames(look_at_film(film)))
    x, y = (round(value) for value in LEFT(TIMES[150:151])[0])
    ring = np.s_[y - 14 : y + 15, x - 14 : x + 15]
    plain = np.s_[: SIZE[1] // 2, 200 : SIZE[0]]
    changed = [np.abs(a.luma[part].astype(int) - b.luma[part]).mean() for a, b, part in (
        (frames[150], own[150], ring), (frames[150], own[150], plain))]  # fmt: skip
    assert changed[0] > 4 * changed[1]
    row = frames[150].luma[SIZE[1] : SIZE[1] + 10].astype(int).max(axis=0)
    hidden, seen = (row[round(SIZE[0] * a / 5) : round(SIZE[0] * b / 5)] for a, b in ((1.05, 1.25), (3, 4)))
    assert hidden.max() < seen.min() - 20
    assert main(["film", str(film), "--marker", "left=red", "--check", str(look)]) == 1
    assert "not overwritten" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["look.mp4"]  # nothing half written stays


def test_a_stretch_is_left_out_and_a_window_is_kept(film, capsys):
    words = ["film", str(film), "--marker", "left=red", "--json"]
    assert main([*words, "--without", "2.0-2.5", "--film-to", "4.8"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["film"]["end_s"] < 4.81
    assert len(found["markers"][0]["gaps"]) == 2


def test_a_pixel_names_a_marker(film, capsys):
    x, y = LEFT(np.array([0.5]))[0]
    at = ["--at", "0.5", f"{x:.0f}", f"{y:.0f}"]
    assert main(["film", str(film), "--marker", "club", *at, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["markers"][0]["name"] == "club"


def test_the_movement_itself_is_followed_in_parts_of_the_picture(film, capsys):
    assert main(["film", str(film), "--part", "left=0,0,160,192", "--part", "right=160,0,160,192", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [marker["name"] for marker in found["markers"]] == ["left", "right"]
    assert any("no place" in note for note in found["notes"])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--marker", "left=gren"], "did you mean green"),
        (["--marker", "left=green"], "nothing green"),
        (["--without", "3-2"], "12.0-13.5"),
        (["--without", "soon"], "12.0-13.5"),
        (["--film-from", "9"], "the film ends at"),
        (["--at", "0.5", "999", "5"], "320 × 192"),
        (["--slowed", "0"], "times slower"),
        (["--part", "left=1,2"], "LEFT,TOP,WIDTH,HEIGHT"),
        (["--part", "left=0,0,999,10"], "within the picture"),
        (["--part", "left", "--marker", "red"], "got both"),
    ],
)
def test_what_makes_no_sense_is_said_in_one_sentence(film, words, said, capsys):
    assert main(["film", str(film), *words]) == 1
    caught = capsys.readouterr()
    assert said in caught.err
    assert caught.out == "" and "Traceback" not in caught.err


@pytest.mark.parametrize("command", ["film", "score"])
def test_the_help_says_that_nothing_is_kept(command, capsys):
    with pytest.raises(SystemExit):
        main([command, "--help"])
    said = " ".join(capsys.readouterr().out.split())
    assert "nothing of it is copied, sent or kept unless it is asked for" in said
    assert "Film minors only as their parents and club allow" in said

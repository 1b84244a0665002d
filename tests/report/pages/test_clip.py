"""The clip of a cycle: two pictures of one moment side by side, slowed, their bars, and the same again and again."""

import numpy as np
import pytest

from tempo_coach.cli import main
from tempo_coach.observe.film.frames import look_at_film, read_frames
from tempo_coach.report.pages import clip
from tempo_coach.report.pages.film import bgr_of
from tests.generators import films

SIZE = (160, 96)
MARKS = np.concatenate([[0.0], np.cumsum([0.5, 0.5, 0.5, 0.7, 0.5, 0.5, 0.5, 0.5])])
TIMES = films.steady_times(4.2, 30)


@pytest.fixture(scope="module")
def film(tmp_path_factory):
    path = films.turning(lambda t: np.interp(t, MARKS, np.arange(MARKS.size)), (80, 48), 30)
    scene = films.Scene({"club": films.Marker(films.RED, path, 6.0)}, TIMES, SIZE)
    return films.write_film(tmp_path_factory.mktemp("clip") / "mills.mp4", films.pictures(scene), size=SIZE, crf=18)


def test_the_long_cycle_goes_on_while_the_usual_one_stands_and_all_begins_again(film, tmp_path, capsys):
    out = tmp_path / "clip.mp4"
    words = ["film", str(film), "--marker", "club=red", "--clip", str(out), "--slower", "2"]
    assert main(words) == 0
    shown = look_at_film(out)
    assert (shown.width, shown.height) == (2 * SIZE[0], SIZE[1] + 64)
    frames = list(read_frames(shown))
    steps = len(frames) // clip.LOOPS
    assert len(frames) == clip.LOOPS * steps
    # .7 s at half the speed, and the end stands
    assert steps / 30 == pytest.approx(2 * 0.7 + clip.STANDS, abs=0.1)
    left, right = np.s_[: SIZE[1], : SIZE[0]], np.s_[: SIZE[1], SIZE[0] :]

    def apart(one, other, part):
        return np.abs(frames[one].luma[part].astype(int) - frames[other].luma[part]).mean()

    late, end = round(2 * 0.55 * 30), round(2 * 0.68 * 30)
    assert apart(late, end, left) > 3 * apart(late, end, right)
    assert apart(5, steps + 5, left) < 0.5 * apart(5, steps - 5, left)
    assert main(words) == 1
    assert "not overwritten" in capsys.readouterr().err


def test_a_cue_is_longer_than_a_count_and_the_count_stands_in_the_picture(film):
    from tempo_coach.observe.film.marker_trace import MarkerSpec, follow_film
    from tempo_coach.observe.film.shown_cycles import choose_cycles

    filmed = follow_film(look_at_film(film), [MarkerSpec("club", "red")])
    cycle = choose_cycles(filmed)[0]
    middle = (cycle.start + cycle.end) / 2
    beats = [clip.Beat(cycle.start + 0.1, "3", cue=False), clip.Beat(middle, "", cue=True)]
    side = clip._Side(filmed, cycle, SIZE, beats)
    before, after = (side.at(since, cycle.lasts, "her cycle") for since in (0.05, 0.3))
    row = SIZE[1] + 16
    white = (after[row - 10 : row].min(axis=2) > 200).sum(axis=0)
    tall = np.flatnonzero(white)
    assert white[tall].max() >= 9 and 4 <= white[tall].min() <= 6
    count = np.s_[10:46, SIZE[0] - 66 :]
    assert (after[count].min(axis=2) > 250).sum() > (before[count].min(axis=2) > 250).sum()
    assert (after[row + 2 : row + 6] == bgr_of(0)).all(axis=2).sum() > (before[row + 2 : row + 6] == bgr_of(0)).all(
        axis=2
    ).sum()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--clip", "a.gif"], "ends in .mp4"),
        (["--clip", "a.mp4", "--slower", "90"], "1 to 20 times"),
        (["--clip", "a.mp4", "--cycle", "90", "--marker", "red"], "expected a whole cycle"),
    ],
)
def test_what_makes_no_sense_is_said_in_one_sentence(film, words, said, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(["film", str(film), *words]) == 1
    assert said in capsys.readouterr().err
    assert not list(tmp_path.iterdir())

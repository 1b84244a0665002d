"""What is drawn into a film: the path, the place, the rows under it; and what is said where it cannot be written."""

from types import SimpleNamespace

import numpy as np
import pytest

from tempo_coach.observe.film.frames import Frame
from tempo_coach.report.pages import film
from tempo_coach.report.words.errors import hint_of
from tests.refused import refused
from tests.report.followed import FILM, followed

HIGH, WIDE = FILM.height, FILM.width


def drawn(found, time):
    drawer = film.FilmDrawer(found, WIDE, HIGH)
    return drawer.draw(np.full((HIGH, WIDE, 3), 90, np.uint8), time), drawer


def coloured(picture, number):
    return (picture == film.bgr_of(number)).all(axis=-1)


def test_rows_under_the_picture_are_one_a_marker_and_even_so_that_a_coder_takes_them():
    for names in (("a",), ("a", "b"), ("a", "b", "c")):
        picture, drawer = drawn(followed(names=names), 0.0)
        assert picture.shape == (HIGH + drawer.below, WIDE, 3)
        assert drawer.below % 2 == 0 and drawer.below >= 12 * len(names)


def test_a_row_is_full_where_seen_half_where_doubtful_and_empty_in_gaps():
    picture, _ = drawn(followed(hidden=((1.0, 2.0),), doubtful=((3.0, 4.0),)), 0.0)
    strip = coloured(picture[HIGH:], 0).sum(axis=0)
    assert [strip[round(WIDE * at / 5)] for at in (0.5, 1.5, 2.5, 3.5, 4.5)] == [9, 0, 9, 4, 9]
    assert coloured(picture[HIGH:], 1).sum(axis=0)[8:].min() == 9


def test_a_ring_stands_where_the_marker_is_and_a_word_where_it_is_not():
    found = followed(hidden=((1.0, 2.0),))
    picture, _ = drawn(found, 0.5)
    x, y = found.in_picture("left")[15]
    assert coloured(picture[:HIGH], 0)[round(y) - 14 : round(y) + 15, round(x) - 14 : round(x) + 15].any()
    said = np.s_[20:60, :95]  # a second line of words, beside which no path runs
    assert not (picture[said] > 200).any()  # letters are white, their edges smoothed
    gone, _ = drawn(found, 1.5)
    assert (gone[said] > 200).any()
    unsure, _ = drawn(followed(doubtful=((1.0, 2.0),)), 1.5)
    assert (unsure[said] > 200).any()
    assert coloured(unsure[:HIGH], 0)[round(y) - 14 : round(y) + 15, round(x) - 14 : round(x) + 15].any()


def test_the_share_that_is_done_goes_from_nothing_to_all():
    _, drawer = drawn(followed(), 0.0)
    assert [drawer.share(time) for time in (-1.0, 0.0, 2.5, 5.0, 9.0)] == pytest.approx([0, 0, 0.5, 1, 1])


def test_the_line_of_time_stands_at_its_share_of_the_width():
    picture, _ = drawn(followed(), 2.5)
    white = (picture[HIGH:] == 255).all(axis=(0, 2))
    assert np.flatnonzero(white).mean() == pytest.approx(0.5 * (WIDE - 1), abs=1.5)


def test_a_name_that_the_font_has_not_is_its_number():
    assert (film._plain("left", 0), film._plain("Zoë", 1)) == ("left", "marker 2")
    assert film.bgr_of(0) == (0xB2, 0x72, 0x00)
    assert film.bgr_of(6) == film.bgr_of(0)


def test_where_it_cannot_be_written_it_says_so(tmp_path, monkeypatch):
    grey = np.full((HIGH, WIDE), 90, np.uint8)
    half = np.full((HIGH // 2, WIDE // 2), 128, np.uint8)
    monkeypatch.setattr(film, "read_frames", lambda _: iter([Frame(0.0, grey, half, half, (0.0, 0.5))]))
    with refused(r"the film cannot be written \(No such file"):
        film.write_film_check(tmp_path / "none" / "look.mp4", followed())
    assert not list(tmp_path.iterdir())
    with refused("writes no mp4") as error:
        film.add_stream(SimpleNamespace(codecs_available=()), None, 10, 10)
    assert "--check OUT.html" in str(hint_of(error.value))


def test_in_a_smaller_picture_the_ring_stands_where_the_marker_is_in_it():
    found = followed(names=("left",))
    drawer = film.FilmDrawer(found, WIDE // 2, HIGH // 2)
    picture = drawer.draw(np.full((HIGH // 2, WIDE // 2, 3), 90, np.uint8), 0.0)  # nothing lies behind: no path
    y, x = np.nonzero(coloured(picture[: HIGH // 2], 0))
    # a pixel is centred on a whole number in both sizes
    expected = (found.in_picture("left")[0] + 0.5) / 2 - 0.5
    np.testing.assert_allclose((x.mean(), y.mean()), expected, atol=1)  # only pixels of the full colour are seen
    assert np.hypot(x - expected[0], y - expected[1]).mean() == pytest.approx(12, abs=0.5)


def test_the_path_of_the_last_cycle_is_drawn_and_nothing_older():
    found = followed(names=("left",))
    places = np.round(found.in_picture("left")).astype(int)

    def drawn_at(time, rows):
        shown = coloured(drawn(found, time)[0][:HIGH], 0)
        return [bool(shown[y - 1 : y + 2, x - 1 : x + 2].any()) for x, y in places[rows]]

    assert all(drawn_at(2.5, range(48, 75)))
    assert not any(drawn_at(0.5, range(19, 26)))  # it has not been there yet

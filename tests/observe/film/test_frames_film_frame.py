"""One picture of a film: planes as decoded, turned upright with the place of its colours, HDR brought near."""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from tempo_coach.observe.film.frames import Frame, _ordinary_luma, is_hdr, look_at_film, read_frames, upright
from tempo_coach.report.words.reasons import say_reason
from tests.conftest import skip_for_missing_part
from tests.generators import films
from tests.observe.film.test_frames_film import SIZE, TIMES, write

PQ, HLG = 16, 18  # ITU-T H.273, table 3


def decoded(rows: int = 6, columns: int = 8, layout: str = "yuv420p"):
    """A picture as the decoder gives it; rows of its planes are padded in memory."""
    import av

    wide = np.arange(rows * columns * 3 // 2, dtype=np.uint8).reshape(rows * 3 // 2, columns)
    raw = av.VideoFrame.from_ndarray(wide, format="yuv420p")
    raw.pts, raw.time_base = 7, Fraction(1, 2)
    return raw if layout == "yuv420p" else raw.reformat(format=layout), wide


def test_planes_are_those_that_were_decoded_without_the_padding_of_their_rows():
    raw, wide = decoded()
    assert raw.planes[0].line_size > raw.planes[0].width
    frame = upright(raw, 0)
    assert np.array_equal(frame.luma, wide[:6])
    assert np.array_equal(frame.blue.ravel(), wide[6:].ravel()[:12])
    assert np.array_equal(frame.red.ravel(), wide[6:].ravel()[12:])
    assert (frame.time, frame.site) == (3.5, (0.0, 0.5))
    assert frame.blue.shape == frame.red.shape == (3, 4)


@pytest.mark.parametrize("turned", [0, 90, 180, 270])
def test_colours_stay_where_they_were_in_the_picture_when_it_is_turned(turned):
    # H.264 puts them on the left of two columns, between two rows (ITU-T H.264, figure E-1, chroma type 0)
    raw, _ = decoded()
    stored, frame = upright(raw, 0), upright(raw, turned)
    rows, columns = stored.luma.shape
    for row in range(3):
        for column in range(4):
            x, y = 2.0 * column, 2.0 * row + 0.5
            for _ in range(turned // 90):  # anticlockwise; 90° swap width and height each time
                x, y = y, (columns if _ % 2 == 0 else rows) - 1 - x
            across, down = (x - frame.site[0]) / 2, (y - frame.site[1]) / 2
            assert (across, down) == (round(across), round(down))
            assert frame.blue[int(down), int(across)] == stored.blue[row, column]


def test_other_layouts_are_brought_to_the_usual_one():
    raw, wide = decoded(layout="yuv444p")
    assert np.array_equal(upright(raw, 0).luma, wide[:6])


def grey(luma: int, blue: int = 128, red: int = 128) -> Frame:
    planes = [np.full(shape, value, np.uint8) for shape, value in (((8, 12), luma), ((4, 6), blue), ((4, 6), red))]
    return Frame(0.0, *planes, (0.0, 0.5))


@pytest.mark.parametrize(
    ("ycc", "rgb"),
    [
        # studio range to full range (ITU-R BT.601): black 16, white 235, red (81, 90, 240), blue (41, 240, 110)
        ((16, 128, 128), (0, 0, 0)),
        ((235, 128, 128), (255, 255, 255)),
        ((0, 128, 128), (0, 0, 0)),
        ((255, 128, 128), (255, 255, 255)),
        ((81, 90, 240), (255, 0, 0)),
        ((41, 240, 110), (0, 0, 255)),
    ],
)
def test_a_picture_for_looking_has_the_full_range(ycc, rgb):
    shown = grey(*ycc).bgr()
    assert shown.shape == (8, 12, 3) and shown.dtype == np.uint8
    assert np.abs(shown.reshape(-1, 3).astype(int) - rgb[::-1]).max() <= 3


def test_a_picture_for_looking_is_made_smaller_and_never_larger():
    assert grey(100).bgr(height=4).shape == (4, 6, 3)
    assert grey(100).bgr(height=8).shape == grey(100).bgr(height=99).shape == (8, 12, 3)


@pytest.mark.parametrize(("transfer", "signal"), [(PQ, 0.58), (HLG, 0.75)])
def test_a_white_sheet_of_an_hdr_film_is_white(transfer, signal):
    """ITU-R BT.2408, table 1: 203 cd/m² are 58 % of the signal of PQ and 75 % of that of HLG."""
    table = _ordinary_luma(transfer)
    assert table[round(64 + 876 * signal)] == pytest.approx(235, abs=2)
    assert (table[:65] == 16).all()
    assert (np.diff(table.astype(int)) >= 0).all()


def test_only_a_picture_that_says_so_is_hdr():
    raw, _ = decoded()
    for said, answer in ((PQ, True), (HLG, True), (1, False), (2, False)):
        raw.color_trc = said
        assert is_hdr(raw) is answer


@pytest.mark.parametrize("turned", [0, 90, 180, 270])
def test_a_turned_film_is_read_upright(tmp_path, turned):
    film = look_at_film(write(tmp_path / "a.mp4", times=TIMES[:5], sound=None, turned=turned))
    frame = next(read_frames(film))
    stored = next(read_frames(replace(film, turned=0)))
    assert (film.width, film.height) == (SIZE if turned in (0, 180) else SIZE[::-1])
    assert np.array_equal(frame.luma, np.rot90(stored.luma, turned // 90))
    assert np.array_equal(frame.red, np.rot90(stored.red, turned // 90))


@pytest.mark.parametrize("turned", [0, 90])
def test_a_picture_for_looking_has_the_colours_that_ffmpeg_gives(tmp_path, turned):
    import cv2

    if shutil.which("ffmpeg") is None:
        skip_for_missing_part("the program ffmpeg is not installed")
    path = write(tmp_path / "a.mp4", times=TIMES[:5], sound=None, turned=turned)
    asked = ["ffmpeg", "-v", "error", "-i", str(path), "-frames:v", "1", str(tmp_path / "a.png")]
    subprocess.run(asked, check=True)
    theirs = cv2.imread(str(tmp_path / "a.png")).astype(int)
    ours = next(read_frames(look_at_film(path))).bgr()
    assert ours.shape == theirs.shape
    assert np.abs(ours - theirs).mean() < 2


@pytest.mark.parametrize("transfer", [16, 18])
def test_an_hdr_film_is_said_to_be_one_and_has_nearly_the_colours_of_an_ordinary_one(tmp_path, transfer):
    """What BT.2087, BT.2100 and BT.2408 make of a colour (tests/generators/films.py) is turned back."""
    colours = [films.RED, films.GREEN, films.BLUE, films.YELLOW, films.PINK, films.WHITE, (128, 128, 128)]
    picture = np.repeat(np.repeat(np.array(colours, np.uint8)[None], 96, axis=0), 32, axis=1)
    shown = [(k / 30, picture) for k in range(3)]
    size = picture.shape[1], 96
    film = look_at_film(films.write_film(tmp_path / "a.mp4", shown, size=size, transfer=transfer, crf=8))
    assert any("HDR" in note and "--at" in note for note in map(say_reason, film.notes))
    plain = look_at_film(films.write_film(tmp_path / "b.mp4", shown, size=size, crf=8))
    assert not plain.notes
    ours, theirs = (next(read_frames(each)) for each in (film, plain))
    middle = np.s_[20, 8::16]
    colour = np.array([[frame.blue[middle], frame.red[middle]] for frame in (ours, theirs)]).astype(float) - 128
    size, hue = np.hypot(*np.moveaxis(colour, 1, 0)), np.degrees(np.arctan2(colour[:, 1], colour[:, 0]))
    assert size[0, :5] == pytest.approx(size[1, :5], rel=0.4)
    assert np.abs((hue[0, :5] - hue[1, :5] + 180) % 360 - 180).max() < 17  # names lie further apart
    assert size[:, 5:].max() < 3
    greys = np.s_[40, [32 * 5 + 16, 32 * 6 + 16]]
    assert ours.luma[greys].astype(int) == pytest.approx(theirs.luma[greys].astype(int), abs=3)


@pytest.mark.parametrize("turned", [0, 90])
def test_pictures_are_read_smaller_and_further_apart_where_that_is_enough(tmp_path, turned):
    film = look_at_film(write(tmp_path / "a.mp4", times=TIMES[:9], sound=None, turned=turned))
    every = list(read_frames(film))
    size = (film.width // 2, film.height // 2)
    some = list(read_frames(film, apart=0.05, size=size))
    assert min(np.diff([frame.time for frame in some])) >= 0.05
    assert some[0].time == every[0].time
    for frame in some:
        luma = next(each.luma for each in every if each.time == frame.time).astype(float)
        halved = luma.reshape(size[1], 2, size[0], 2).mean(axis=(1, 3))
        assert frame.luma.shape == halved.shape
        assert np.abs(frame.luma - halved).mean() < 1.0

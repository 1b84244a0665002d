"""Nothing flashes: rendered frames of a take, followed cell by cell with their colours.

WCAG 2.3.1 (W3C, 2018, with its definition of general flash): a flash is a pair of opposing changes of relative
luminance of a tenth of its range or more, the darker below 0.80. More than three within a second are allowed only
where those that come together take up less than a quarter of any rectangle of 341 by 256 pixels, of 1024 by 768.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import pytest
from rich.console import Console
from rich.style import Style

from tempo_coach.coach.practising.conductor import Conductor
from tempo_coach.live.practice.session import Stage
from tempo_coach.ui.palette import Palette
from tempo_coach.ui.practice.moving_screen import PICTURES_HZ
from tempo_coach.ui.practice.practice_card import draw_practice_card
from tests.ui import fakes
from tests.ui.fakes import lay
from tests.ui.test_screens import SIZES

if TYPE_CHECKING:
    from rich.text import Text

LEAST_CHANGE, DARK, AT_MOST = 0.1, 0.8, 3
FIELD, PIXELS = (341, 256), (1024, 768)
#: How much of its cell a sign covers; any other sign covers about a fifth.
COVERS = {" ": 0.0, "▀": 0.5, "▄": 0.5, "▌": 0.5, "▐": 0.5, **{sign: k / 8 for k, sign in enumerate(" ▁▂▃▄▅▆▇█")}}
CONSOLE = Console(color_system="truecolor", force_terminal=True, width=200)


@cache
def luminance_of(style: Style, covered: float) -> float:
    """Relative luminance of a cell (WCAG 2, after IEC 61966-2-1), ink and ground by what they cover."""

    def of(part: str) -> float:
        colour = style.color if part == "ink" else style.bgcolor
        assert colour is not None, "the card is drawn in its own colours"
        shares = np.array(colour.get_truecolor()) / 255
        linear = np.where(shares <= 0.03928, shares / 12.92, ((shares + 0.055) / 1.055) ** 2.4)
        return float(linear @ (0.2126, 0.7152, 0.0722))

    return covered * of("ink") + (1 - covered) * of("ground")


parse = cache(Style.parse)


def luminances(rows: list[Text], width: int) -> np.ndarray:
    drawn = np.zeros((len(rows), width))
    for y, row in enumerate(rows):
        under = parse(str(row.style) or Palette().text)
        x = 0
        for segment in row.render(CONSOLE, end=""):
            style = under + segment.style if segment.style else under
            for sign in segment.text:
                drawn[y, x] = luminance_of(style, COVERS.get(sign, 0.2))
                x += 1
    return drawn


def turns_of(values: np.ndarray) -> list[int]:
    """Frames at which a cell has changed by enough, in the other direction than the time before."""
    turns, extreme, rising = [], values[0], 0
    for k, value in enumerate(values):
        change = value - extreme
        way = int(np.sign(change))
        if way == rising:
            extreme = value
        elif abs(change) >= LEAST_CHANGE and min(value, extreme) < DARK:
            turns.append(k)
            extreme, rising = value, way
        elif rising == 0 and way == 0:
            extreme = value
    return turns


def flashing(frames: np.ndarray, rate: float) -> np.ndarray:
    """Return for each frame and cell whether more than three flashes end there within a second."""
    busy = np.zeros(frames.shape, dtype=bool)
    for y, x in np.argwhere(np.ptp(frames, axis=0) >= LEAST_CHANGE):
        turns = np.array(turns_of(frames[:, y, x]))
        for k in turns:
            busy[k, y, x] = np.sum((turns > k - rate) & (turns <= k)) > 2 * AT_MOST
    return busy


def most_in_a_field(busy: np.ndarray, width: int, height: int) -> float:
    """The largest share of a field that flashes within the same second."""
    wide, high = FIELD[0] * width // PIXELS[0], FIELD[1] * height // PIXELS[1]
    together = np.pad(busy.any(axis=0).astype(float), ((1, 0), (1, 0))).cumsum(0).cumsum(1)
    inside = together[high:, wide:] - together[:-high, wide:] - together[high:, :-wide] + together[:-high, :-wide]
    return float(inside.max() / (wide * high))


def film(drill: str, tempo_bpm: float, width: int, height: int) -> np.ndarray:
    """Frames of twelve seconds of a take in which every tap is early, then late, then on time."""
    stage = fakes.Stage(lay(drill, tempo_bpm=tempo_bpm, cycles=60), options={"keys": "jf", "at_once": True})
    if len(stage.plan.hands) == 1:
        stage = fakes.Stage(stage.plan, options={"keys": "j", "at_once": True})
    conductor = Conductor(stage.context, aside=lambda work, then: then(work()), clock=stage.clock)
    while conductor.session.stage is not Stage.PLAYING:
        conductor.tick()
    zero, moments = stage.clock.now, stage.plan.moments
    taps = sorted(
        (float(time) + (-0.04, 0.04, 0.0)[k % 3], hand)
        for k, (time, hand) in enumerate(zip(moments.time, moments.hand, strict=True))
    )
    keys = dict(conductor.session.keys)
    frames = []
    for k in range(int(12 * PICTURES_HZ)):
        now = k / PICTURES_HZ
        while taps and taps[0][0] <= now:
            time, hand = taps.pop(0)
            stage.clock.now = zero + time
            conductor.press(keys[hand], zero + time)
        stage.clock.now = zero + now
        conductor.tick()
        rows = draw_practice_card(
            conductor.picture(), conductor.movement, width=width, height=height, palette=Palette()
        )
        frames.append(luminances(rows, width))
    return np.array(frames)


@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize("drill", ["clubs_mills", "rope_skips_single"])
def test_at_200_beats_a_minute_no_larger_area_flashes(drill: str, width: int, height: int) -> None:
    frames = film(drill, 200.0, width, height)
    assert frames.shape == (180, height, width)
    assert np.ptp(frames, axis=0).max() > 0.5  # it was drawn, and it moved
    assert most_in_a_field(flashing(frames, PICTURES_HZ), width, height) < 0.25


def test_a_square_that_flashes_five_times_a_second_is_found() -> None:
    rate, width, height = 20, 80, 24
    frames = np.full((60, height, width), 0.9)
    frames[::4, 5:12, 10:40] = frames[1::4, 5:12, 10:40] = 0.1
    assert most_in_a_field(flashing(frames, rate), width, height) > 0.5
    slower = np.full((60, height, width), 0.9)
    for k in range(0, 60, 20):  # three short ones in a second, then two seconds apart
        slower[k : k + 3, 5:12, 10:40] = 0.1
    assert most_in_a_field(flashing(slower, rate), width, height) == 0.0

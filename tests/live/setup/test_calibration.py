"""What calibrating found: kept, read again, and chosen from."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tempo_coach.errors import CoachError
from tempo_coach.live.notices import Code
from tempo_coach.live.setup.calibration import (
    THIS_COMPUTER,
    Setup,
    calibration_file,
    find_setup,
    keep_calibration,
    read_calibrations,
    setup_of,
    to_plain,
)
from tempo_coach.live.setup.chirps import LoopDelay
from tempo_coach.live.setup.delays import Delay, TapDelay
from tests.refused import refused

if TYPE_CHECKING:
    from pathlib import Path

TAPPED = Delay(0.012, 0.005, 0.019, 0.022, 28)
TAPS = to_plain(TapDelay(TAPPED, Delay(0.037, 0.008, 0.066, 0.022, 28)), begun="2031-05-04")
STAMPS = to_plain(Delay(0.0001, 0.00009, 0.00011, 0.00002, 150), begun="2031-05-04")
STROKES = to_plain(Delay(0.031, 0.030, 0.032, 0.0015, 20), begun="2031-05-05")
STEADY = to_plain(LoopDelay((0.087, 0.088, 0.089), 0.0001), begun="2031-05-04")
WIRELESS = to_plain(LoopDelay((0.187, 0.288, 0.191), 0.0001), begun="2031-05-04")


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name in ("XDG_DATA_HOME", "LOCALAPPDATA", "HOME"):
        monkeypatch.setenv(name, str(tmp_path))
    return tmp_path


def test_each_device_keeps_its_own_and_a_new_measurement_takes_the_place_of_its_kind() -> None:
    keep_calibration("one", {"taps": TAPS})
    keep_calibration("two", {"taps": TAPS})
    path = keep_calibration("one", {"loop": STEADY})
    keep_calibration("one", {"taps": {**TAPS, "n": 9}})
    assert path == calibration_file()
    known = read_calibrations()
    assert known == {"one": {"taps": {**TAPS, "n": 9}, "loop": STEADY}, "two": {"taps": TAPS}}
    assert [each.name for each in path.parent.iterdir()] == ["calibration.json"]


def test_nothing_is_known_of_a_device_that_was_never_calibrated() -> None:
    assert read_calibrations() == {}
    assert setup_of("one", "tap") == Setup()


def test_strokes_that_were_heard_go_before_taps_to_clicks() -> None:
    both = find_setup({"taps": TAPS, "strokes": STROKES, "stamps": STAMPS}, "tap")
    assert both == Setup(delay=0.031, noise_floor_ms=1.5, found_by="strokes heard")
    taps = find_setup({"taps": TAPS, "stamps": STAMPS}, "tap")
    assert taps == Setup(delay=0.037, noise_floor_ms=0.02, found_by="taps to clicks")
    assert find_setup({"stamps": STAMPS}, "tap") == Setup(noise_floor_ms=0.02)


def test_a_coach_who_taps_has_the_delay_and_no_floor_that_anybody_measured() -> None:
    assert find_setup({"taps": TAPS, "stamps": STAMPS}, "coach's tap") == Setup(0.037, None, found_by="taps to clicks")


@pytest.mark.parametrize("observed_by", ["film", "sensor", "contact", "voice"])
def test_what_is_not_tapped_has_no_keyboards_delay(observed_by: str) -> None:
    assert find_setup({"taps": TAPS, "strokes": STROKES, "loop": STEADY}, observed_by) == Setup(loop=0.088)


def test_a_delay_that_changes_is_warned_of() -> None:
    code, (apart,) = find_setup({"loop": WIRELESS}, "tap").notice
    assert code is Code.DELAY_CHANGES and round(apart) == 101
    assert find_setup({"loop": STEADY}, "tap").notice is None


def test_what_is_the_same_with_every_device_is_known_of_each() -> None:
    keep_calibration(THIS_COMPUTER, {"stamps": STAMPS})
    keep_calibration("one", {"taps": TAPS})
    assert setup_of("one", "tap").noise_floor_ms == setup_of("silent clock", "tap").noise_floor_ms == 0.02
    assert setup_of("silent clock", "tap").delay == 0


@pytest.mark.parametrize(
    "content", ["", "[]", '{"version": 1}', '{"version": 1, "devices": 3}', "\x00", '{"version": 9, "devices": {}}']
)
def test_a_file_that_is_none_is_said_and_stops_no_take(content: str) -> None:
    path = keep_calibration("one", {"taps": TAPS})
    path.write_text(content)
    with pytest.raises(CoachError):
        read_calibrations()
    with pytest.raises(CoachError):
        keep_calibration("one", {"taps": TAPS})
    assert path.read_text() == content
    assert setup_of("one", "tap").notice.code is Code.NOT_CALIBRATED


def test_a_folder_that_cannot_be_written_is_said(home: Path) -> None:
    (home / "file").write_text("")
    with refused("cannot be"):
        keep_calibration("one", {"taps": TAPS}, home / "file" / "calibration.json")


def test_a_number_that_is_none_is_a_callers_bug() -> None:
    with pytest.raises(ValueError, match="finite"):
        to_plain(Delay(float("nan"), 0.0, 0.0, 0.0, 5), begun="")

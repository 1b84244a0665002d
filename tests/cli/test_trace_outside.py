"""Traces of walking people, held against what others marked in them.

The recording comes with the source distribution of the package gaitmap 2.6.0 (MIT licence; none of its code is used):
sensors on both feet, 204.8 Hz, two lengths of a corridor with a turn between them, and the first contact of the heel
in every stride as its authors marked it.
"""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
import tarfile
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pytest

from tempo_coach.cli import main
from tests import HANG
from tests.conftest import skip_for_missing_part

if TYPE_CHECKING:
    from pathlib import Path

PACKAGE, RATE_HZ = "gaitmap==2.6.0", 204.8
#: The side to side axis of a foot's rotation, which tells its strides.
AXIS = "gyr_y"


class Walk(NamedTuple):
    """A table of both feet, and the seconds at which each heel came down."""

    table: Path
    contacts: dict[str, np.ndarray]


@pytest.fixture(scope="module")
def walk(tmp_path_factory: pytest.TempPathFactory) -> Walk:
    folder = tmp_path_factory.mktemp("walk")
    words = ["-m", "pip", "download", "-q", "--no-deps", "--no-binary", "gaitmap", PACKAGE, "-d", str(folder)]
    got = subprocess.run([sys.executable, *words], capture_output=True, text=True, timeout=5 * HANG, check=False)
    if got.returncode:
        skip_for_missing_part(f"{PACKAGE} cannot be had: {got.stderr.strip()[-200:]}")
    (package,) = folder.glob("*.tar.gz")
    with tarfile.open(package) as files:
        feet, axes, *rows = _read(files, "imu_sample.csv")
        events = _read(files, "stride_events_sample.csv")
    at = {foot: list(zip(feet, axes, strict=True)).index((f"{foot}_sensor", AXIS)) for foot in ("left", "right")}
    turning = np.radians([[float(row[at[foot]]) for foot in at] for row in rows])
    table = folder / "feet.csv"
    lines = [f"{k / RATE_HZ:.6f},{left:.6f},{right:.6f}" for k, (left, right) in enumerate(turning)]
    table.write_text("\n".join(["time_s,left_gyr_y,right_gyr_y", *lines]) + "\n")
    head, *marked = events
    foot_at, contact_at = head.index("foot"), head.index("ic")
    contacts = {foot: np.array([float(row[contact_at]) for row in marked if row[foot_at] == foot]) for foot in at}
    return Walk(table, {foot: np.sort(samples) / RATE_HZ for foot, samples in contacts.items()})


def _read(files: tarfile.TarFile, name: str) -> list[list[str]]:
    member = files.extractfile(f"{PACKAGE.replace('==', '-')}/example_data/{name}")
    assert member is not None
    return list(csv.reader(io.TextIOWrapper(member, encoding="utf-8")))


def tell(walk: Walk, foot: str, other: str, capsys: pytest.CaptureFixture[str]) -> dict[str, object]:
    words = ["trace", str(walk.table), "--columns", f"{foot}_gyr_y", "--against", f"{other}_gyr_y", "--json"]
    assert main(words) == 0
    found: dict[str, object] = json.loads(capsys.readouterr().out)
    return found


@pytest.mark.parametrize("foot", ["left", "right"])
def test_every_stride_that_was_marked_is_found_and_as_long(
    walk: Walk, foot: str, capsys: pytest.CaptureFixture[str]
) -> None:
    other = {"left": "right", "right": "left"}[foot]
    found = np.array(tell(walk, foot, other, capsys)["cycles"])
    contacts = walk.contacts[foot]
    assert len(contacts) in (28, 29)
    strides = np.diff(contacts)
    walked = strides < 1.5 * np.median(strides)  # the turn is no stride
    # each stride that was marked lies around one crossing of ours, and the next one around the next
    offset = np.median([found[np.argmin(np.abs(found - c))] - c for c in contacts])
    nearest = np.array([np.argmin(np.abs(found - offset - c)) for c in contacts])
    assert np.all(np.diff(nearest)[walked] == 1)
    ours = np.diff(found[nearest])[walked]
    assert np.median(ours) == pytest.approx(np.median(strides[walked]), rel=0.01)
    assert np.std(ours - strides[walked]) < 0.03
    assert np.std(found[nearest] - contacts) < 0.03


def test_one_foot_trails_the_other_by_what_the_marks_say(walk: Walk, capsys: pytest.CaptureFixture[str]) -> None:
    (lag,) = tell(walk, "left", "right", capsys)["lags"]  # type: ignore[misc]  # one lag, as the values say
    left, right = walk.contacts["left"], walk.contacts["right"]
    k = np.searchsorted(left, right) - 1
    inside = (k >= 0) & (k < len(left) - 1)
    k, right = k[inside], right[inside]
    stride = left[k + 1] - left[k]
    walked = stride < 1.5 * np.median(stride)
    marked = float(np.median(360 * ((right - left[k]) / stride)[walked]))
    assert 165 < marked < 195
    # how each sensor sits on its foot may shift it by up to 2 % of a stride
    assert lag["deg"] == pytest.approx(marked, abs=4)  # type: ignore[index]
    assert lag["n"] >= 25  # type: ignore[index]

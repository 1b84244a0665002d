"""The file of a take: grows line by line, and survives whatever ends it."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach import coach
from tempo_coach.observe.take.take_file import make_take, read_take, read_take_file
from tests.observe.written import PERFECT, PLAN, write_all, writer
from tests.refused import into, refused


def test_a_finished_take_comes_back_as_the_clocks_put_it_in_the_end(tmp_path: Path) -> None:
    out = write_all(tmp_path / "a")
    out.finish(PERFECT, how="passage", unmeasurable=[(1.0, 1.5)])
    file = read_take_file(tmp_path / "a")
    assert file.take.onsets.time == pytest.approx(PLAN.moments.time, abs=0)
    assert file.take.onsets.hand == PLAN.moments.hand
    assert file.take.observed_by == "tap" and file.take.unmeasurable == ((1.0, 1.5),)
    assert (file.begun, file.player, file.ended) == ("2031-05-04T18:15:02", "silent clock", "passage")
    assert coach.judge_take(file.take).value("spread_ms") == pytest.approx(0, abs=1e-9)


def test_a_take_that_was_broken_off_is_made_of_what_is_there(tmp_path: Path) -> None:
    write_all(tmp_path / "a").close()
    take = read_take(tmp_path / "a")
    assert len(take.onsets) == len(PERFECT)
    assert coach.judge_take(take).value("bias_ms") == pytest.approx(2.0, abs=1e-6)


@given(st.data())
def test_wherever_the_file_is_cut_every_whole_line_before_it_is_read(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    path = tmp_path_factory.mktemp("take") / "a"
    write_all(path).close()
    raw = path.read_bytes()
    head = raw.index(b"\n") + 1
    cut = data.draw(st.integers(head, len(raw)))
    path.write_bytes(raw[:cut])
    said: list[str] = []
    take = read_take(path, warn=into(said))
    whole = raw[head:cut].count(b"\n")
    at_the_edge = raw[cut : cut + 1] == b"\n"
    expected = whole + at_the_edge
    last = max((time + 0.002 for time, _ in PERFECT[:expected]), default=0.0)
    kept_cycles = {int(c) for c in PLAN.moments.cycle} - {int(c) for c in PLAN.moments.cycle[PLAN.moments.time > last]}
    assert len(take.onsets) >= sum(PLAN.moments.cycle[k] in kept_cycles for k in range(expected))
    assert bool(said) == (not at_the_edge and raw[cut - 1 : cut] != b"\n")


def test_a_block_that_never_reached_the_disk_spoils_no_line_beside_it(tmp_path: Path) -> None:
    write_all(tmp_path / "a").close()
    lines = (tmp_path / "a").read_bytes().split(b"\n")
    lines[3] = b"\0" * 40 + b"{broken"
    (tmp_path / "a").write_bytes(b"\n".join(lines))
    said: list[str] = []
    assert len(read_take(tmp_path / "a", warn=into(said)).onsets) == len(PERFECT) - 1
    assert said == [f"{tmp_path / 'a'}: line 4 cannot be read and was left out."]


@pytest.mark.parametrize("time", ["1e999", "-1e300", "9" * 400, "9" * 5000])
def test_a_time_that_no_take_has_spoils_no_line_beside_it(tmp_path: Path, time: str) -> None:
    write_all(tmp_path / "a").close()
    lines = (tmp_path / "a").read_bytes().split(b"\n")
    lines[3] = f'{{"hand": "right", "stamp": 1, "time": {time}}}'.encode()
    lines[4] = f'{{"gap": [1, {time}]}}'.encode()
    (tmp_path / "a").write_bytes(b"\n".join(lines))
    said: list[str] = []
    assert len(read_take(tmp_path / "a", warn=into(said)).onsets) == len(PERFECT) - 2
    assert len(said) == 2


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "no take"),
        (b"time,hand\n1,right\n", "no take"),
        (b'{"take": 99}\n', "version"),
        (b'{"take": 1, "plan": {}}\n', "plan"),
        (b"\xff\xfe\n", "no take"),
    ],
)
def test_what_is_no_take_is_said_to_be_none(tmp_path: Path, content: bytes, words: str) -> None:
    (tmp_path / "a").write_bytes(content)
    with refused(words):
        read_take(tmp_path / "a")


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    with refused("no such file"):
        read_take(tmp_path / "nowhere")


# --- what belongs to a take -----------------------------------------------------------------------------------------


def test_tapping_along_with_the_lead_in_is_no_fault() -> None:
    counts = [(float(t), "right") for t in np.arange(0.0, 3.6, 0.5)]
    card = coach.judge_take(make_take(PLAN, counts + PERFECT, observed_by="tap"))
    assert len(card.extra_time) == 0 and len(card.missed) == 0


def test_a_hand_that_began_a_cycle_early_keeps_its_first_onset() -> None:
    early = [(time - 1.0, hand) for time, hand in PERFECT]
    take = make_take(PLAN, early, observed_by="tap")
    assert len(take.onsets) == len(PERFECT)


def test_what_was_not_asked_any_more_when_she_stopped_is_not_missed() -> None:
    stopped = PLAN.moments.time[9] + 0.01
    done = [(time, hand) for time, hand in PERFECT if time <= stopped]
    take = make_take(PLAN, done, observed_by="tap", stopped=float(stopped))
    card = coach.judge_take(take)
    assert len(card.missed) == 0 and len(card.extra_time) == 0
    assert 0 < take.plan.cycles < PLAN.cycles


def test_a_take_that_was_stopped_in_the_lead_in_asks_for_nothing() -> None:
    take = make_take(PLAN, [(1.0, "right")], observed_by="tap", stopped=1.2)
    assert len(take.plan.moments) == 0 and len(take.onsets) == 0
    assert coach.judge_take(take).flagged == ()


def test_an_onset_without_a_place_on_the_clock_is_left_out() -> None:
    take = make_take(PLAN, [*PERFECT, (float("nan"), "left")], observed_by="tap")
    assert len(take.onsets) == len(PERFECT)


def test_no_onset_at_all_is_a_take_too(tmp_path: Path) -> None:
    writer(tmp_path / "a").finish([], how="passage")
    take = read_take(tmp_path / "a")
    assert len(take.onsets) == 0 and take.plan.cycles == PLAN.cycles


@pytest.mark.parametrize("calibrated", [True, False])
def test_whether_the_setup_was_calibrated_is_in_the_file(tmp_path: Path, calibrated: bool) -> None:
    write_all(tmp_path / "a").finish(PERFECT, how="passage", calibrated=calibrated)
    assert read_take(tmp_path / "a").calibrated is calibrated
    assert (b"calibrated" in (tmp_path / "a").read_bytes()) is calibrated  # older files have no such key


@pytest.mark.parametrize("value", ["1", '"true"', "null"])
def test_nothing_but_true_says_that_it_was_calibrated(tmp_path: Path, value: str) -> None:
    write_all(tmp_path / "a").finish(PERFECT, how="passage", calibrated=True)
    raw = (tmp_path / "a").read_text()
    (tmp_path / "a").write_text(raw.replace('"calibrated": true', f'"calibrated": {value}'))
    assert not read_take(tmp_path / "a").calibrated

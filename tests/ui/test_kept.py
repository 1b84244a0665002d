"""A practice puts its takes into the history, and goes on where that fails."""

from pathlib import Path

import pytest

from tempo_coach.coach import Request
from tempo_coach.coach.practising.conductor import Conductor
from tempo_coach.coach.practising.start import prepare_practice
from tempo_coach.history.data_folder import FILE_VARIABLE
from tempo_coach.history.takes import History
from tempo_coach.live.practice.session import Stage
from tempo_coach.reasons import Why
from tests.coach.practising.test_conductor import PLAN, START, at_once, play
from tests.ui import fakes


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "data" / "history.sqlite"
    monkeypatch.setenv(FILE_VARIABLE, str(path))
    return path


def practise(folder: Path) -> Conductor:
    made = prepare_practice(Request("clubs_mills", tempo_bpm=120, cycles=8), athlete="Zoë", device="none")
    made.begun()  # as the conductor asks when a take begins
    stage = fakes.Stage(PLAN, folder=folder, options={**START, "keep": made.keep})
    conductor = Conductor(stage.context, aside=at_once, clock=stage.clock)
    play(conductor, stage, late=0.02)
    stage.clock.now += 2
    conductor.tick()
    assert conductor.session.stage is Stage.AFTER
    return conductor


def test_a_take_is_in_the_history_when_its_card_is_seen(tmp_path: Path, file: Path) -> None:
    (done,) = practise(tmp_path).takes.done
    assert done.told == ()
    with History(file, read_only=True) as history:
        kept = history.take(1)
    assert kept.row.athlete == "Zoë"
    assert kept.take.onsets.time == pytest.approx(done.take.onsets.time, abs=0)
    assert kept.row.bias_ms == pytest.approx(20, abs=0.01)
    assert Path(kept.setup["file"]) == tmp_path / "1.take.jsonl"


def test_where_the_history_cannot_be_written_the_take_says_so_and_is_there(tmp_path: Path, file: Path) -> None:
    file.parent.write_text("a file where the folder should be")
    (done,) = practise(tmp_path).takes.done
    assert done.unkept.code is Why.UNKEPT
    assert (tmp_path / "1.take.jsonl").exists()
    assert done.card.measures["bias_ms"].n == len(PLAN.moments)


def test_nothing_tapped_is_nothing_kept(tmp_path: Path, file: Path) -> None:
    made = prepare_practice(Request("clubs_mills", tempo_bpm=120, cycles=8), athlete="Zoë", device="none")
    stage = fakes.Stage(PLAN, folder=tmp_path, options={**START, "keep": made.keep})
    conductor = Conductor(stage.context, aside=at_once, clock=stage.clock)
    conductor.tick()
    stage.clock.now += PLAN.duration + 2
    conductor.tick()
    assert conductor.session.stage is Stage.AFTER
    assert not file.exists()

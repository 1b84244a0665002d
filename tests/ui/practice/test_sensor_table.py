"""A take whose sensor wrote a table: it is chosen afterwards, its columns are asked once, and the scorecard appears."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from textual.events import Paste

from tempo_coach.observe.take.take_file import read_take
from tempo_coach.reasons import Reason, Why
from tempo_coach.ui.practice.practise import PractiseScreen
from tempo_coach.ui.practice.sensor_table import ASK, SensorTableScreen, make_table_form, read_table_form
from tests.generators import movement
from tests.refused import refused
from tests.ui import fakes
from tests.ui.fakes import in_a_loop, lay, wait_until
from tests.ui.test_screens import conductor_of, open_app, shown, start

if TYPE_CHECKING:
    from pathlib import Path

    from tempo_coach.coach.practising.form import Form

PLAN = lay("hoop_hand_rotations", tempo_bpm=120, cycles=12)
LATE = 0.04


def write_table(path: Path) -> Path:
    """A wrist whose circles are at their lowest 40 ms after each moment; nothing says what x, y and z are."""
    phase = movement.Phase(PLAN.moments.time + LATE)
    time = movement.clock(PLAN.duration, 100)
    angle = 2 * np.pi * phase(time)
    rows = np.column_stack([time, 0.3 * np.sin(angle), 0.02 * np.cos(angle), 0.3 * -np.cos(angle)])
    np.savetxt(path, rows, delimiter=",", header="time,x,y,z", comments="", fmt="%.5f")
    return path


def fill_in(**values: str) -> Form:
    form = make_table_form()
    for key, value in values.items():
        form = form.put(replace(form.line(key), value=value))
    return form


@pytest.mark.parametrize(
    ("values", "said"),
    [({}, "expected the name of a table"), ({"table": "a.csv", "clap": "soon"}, "expected two numbers of seconds")],
)
def test_what_makes_no_sense_is_said(values: dict[str, str], said: str) -> None:
    with refused(said):
        read_table_form(fill_in(**values))


def test_columns_that_were_asked_have_to_be_named() -> None:
    form = fill_in(table="a.csv")
    form = form.put(replace(form.line("columns"), value=ASK, choices=(ASK, "positions in m")))
    with refused("nothing says what the columns are"):
        read_table_form(form)
    assert read_table_form(form.put(replace(form.line("columns"), value="positions in m"))).answer == ("position", "m")


def test_columns_are_asked_once_and_the_scorecard_appears(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    data = tmp_path / "data"
    monkeypatch.setattr("tempo_coach.coach.answered_tables.data_folder", lambda: data)
    table = write_table(tmp_path / "wrist of today.csv")
    takes = tmp_path / "takes"
    takes.mkdir()

    async def choose(asks: bool) -> None:
        options = {
            "observed_by": "sensor",
            "at_once": True,
            "keep": lambda _, how: None if how == "sensor" else Reason(Why.UNKEPT, (how, None)),
        }
        stage = fakes.Stage(PLAN, folder=takes, options=options)
        app = open_app(stage)
        async with app.run_test(size=(80, 24)) as pilot:
            await start(app, pilot)
            stage.clock.now += PLAN.duration + 1
            await wait_until(pilot, lambda: "F2 its table" in shown(app))
            await pilot.press("f2")
            await wait_until(pilot, lambda: isinstance(app.screen, SensorTableScreen))
            app.screen.post_message(Paste(f"'{table}'\n"))
            await wait_until(pilot, lambda: "wrist of today.csv" in shown(app))
            await pilot.press("down", *"0 0", "enter")
            if asks:
                await wait_until(pilot, lambda: "100 readings a second" in shown(app))
                drawn = " ".join(shown(app).split())
                assert "-0.3 to 0.3" in drawn and "-0.02 to 0.02" in drawn and ASK in drawn
                assert not data.exists()
                await pilot.press("down", "p", "enter")
            await wait_until(pilot, lambda: isinstance(app.screen, PractiseScreen))
            await wait_until(pilot, lambda: "F2 its table" not in shown(app) and "cycle" in shown(app))
            (done,) = conductor_of(app).takes.done
            assert done.card.value("bias_ms") == pytest.approx(1000 * LATE, abs=5)
            assert len(done.card.missed) == len(done.card.extra_time) == 0

    in_a_loop(choose(True))
    assert 'unit = "position=m"' in (data / "columns.toml").read_text(encoding="utf-8")
    assert read_take(takes / "1_sensor.take.jsonl").observed_by == "sensor"
    for path in takes.iterdir():
        path.unlink()
    in_a_loop(choose(False))

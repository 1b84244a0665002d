"""The takes of a group from their files: tables, takes and traces on one take clock."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.errors import CoachError
from tempo_coach.observe.members import gather
from tempo_coach.observe.take.take_file import ENDING
from tempo_coach.observe.take.take_writer import TakeWriter
from tempo_coach.report.words.errors import hint_of, message_of
from tests.observe.written import PERFECT, PLAN, write_all

if TYPE_CHECKING:
    from pathlib import Path

    from tempo_coach.pattern.plan.plan import Plan


def lay(_: float) -> Plan:
    return PLAN


def write(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8")
    return path


def table(path: Path, **rows: str) -> Path:
    lines = [f"{time},{name},right" for name, times in rows.items() for time in times.split()]
    return write(path, "\n".join(["time,member,hand", *lines]) + "\n")


def test_every_member_of_a_table_has_a_take_on_the_clock_of_the_take(tmp_path: Path) -> None:
    path = table(tmp_path / "é.csv", Zoë="5 6", Bo="5.5")
    takes, mixed, *_ = gather([str(path)], lay_plan=lay, later={"Bo": 0.25})
    assert mixed is None
    assert {name: take.onsets.time.tolist() for name, take in takes.items()} == {"Zoë": [5.0, 6.0], "Bo": [5.75]}
    assert all(take.plan is PLAN for take in takes.values())


def test_the_plan_is_laid_for_the_last_onset_on_the_take_clock(tmp_path: Path) -> None:
    asked: list[float] = []

    def note(last: float) -> Plan:
        asked.append(last)
        return PLAN

    path = table(tmp_path / "a.csv", Ada="1 9", Bo="102 109")
    gather([str(path)], lay_plan=note, later={"Bo": -98.0})
    gather([str(path)], lay_plan=note, later={"Ada": 101.5})
    assert asked == [11.0, 110.5]


def test_one_recording_of_all_is_a_mix_and_one_member_where_it_has_a_name_or_company(tmp_path: Path) -> None:
    alone = write(tmp_path / "all.csv", "time,hand\n5,left\n5.5,right\n")
    takes, mixed, *_ = gather([str(alone)], lay_plan=lay, later={})
    assert takes == {} and mixed is not None and mixed.onsets.time.tolist() == [5.0, 5.5]
    for sources, names in (
        ([f"Zoë={alone}"], ["Zoë"]),
        ([f"={alone}"], []),
        ([str(alone), f"Bo={alone}"], ["all", "Bo"]),
    ):
        assert list(gather(sources, lay_plan=lay, later={})[0]) == names


def test_a_file_whose_name_has_an_equals_sign_is_found(tmp_path: Path) -> None:
    path = write(tmp_path / "a=b.csv", "time,hand\n5,left\n")
    assert list(gather([str(path), f"Bo={path}"], lay_plan=lay, later={})[0]) == ["a=b", "Bo"]


def test_a_take_brings_its_plan_its_gaps_and_how_it_was_observed(tmp_path: Path) -> None:
    path = tmp_path / f"Zoë{ENDING}"
    write_all(path).finish(PERFECT, how="passage", noise_floor_ms=2.0, unmeasurable=[(1.0, 1.5)])
    beside = table(tmp_path / "b.csv", Bo="5")
    takes, *_ = gather([str(path), str(beside)], lay_plan=None, later={"Zoë": 0.5})
    mine = takes["Zoë"]
    np.testing.assert_allclose(mine.onsets.time, PLAN.moments.time + 0.5)
    assert mine.onsets.hand == PLAN.moments.hand
    assert (mine.observed_by, mine.noise_floor_ms, mine.unmeasurable) == ("tap", 2.0, ((1.5, 2.0),))
    assert takes["Bo"].plan is mine.plan


def test_of_takes_alone_no_plan_is_laid(tmp_path: Path) -> None:
    def never(_: float) -> Plan:
        raise AssertionError

    write_all(tmp_path / "a").close()
    takes, *_ = gather([str(tmp_path / "a")], lay_plan=never, later={})
    assert list(takes) == ["a"]


def test_a_take_that_says_whose_it_is_has_her_name_unless_another_one_is_said(tmp_path: Path) -> None:
    for name in ("Ada", "Bea"):
        TakeWriter(
            tmp_path / f"{name[0]}.jsonl", PLAN, observed_by="tap", begun="2031-05-04", extra={"member": name}
        ).close()
    takes, *_ = gather([str(tmp_path / "A.jsonl"), f"Cyl={tmp_path / 'B.jsonl'}"], lay_plan=None, later={})
    assert list(takes) == ["Ada", "Cyl"]


def test_a_trace_gives_the_events_of_what_moves_in_it(tmp_path: Path) -> None:
    time = np.arange(0, 12, 0.02)
    rows = [f"{t:.2f},{np.sin(2 * np.pi * (t - 0.25)):.5f}" for t in time]
    path = write(tmp_path / "seil.csv", "\n".join(["time,x", *rows]))
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=120, cycles=4, hand="right"))
    takes, *_ = gather([f"Bo={path}"], lay_plan=lambda _: plan, later={})
    np.testing.assert_allclose(takes["Bo"].onsets.time, 0.25 + np.arange(12), atol=0.005)
    assert set(takes["Bo"].onsets.hand) == {"right"}
    still = write(tmp_path / "still.csv", "\n".join(["time,x", *(f"{t:.2f},{t * 0.1:.3f}" for t in time)]))
    with pytest.raises(CoachError) as caught:
        gather([str(still)], lay_plan=lambda _: plan, later={})
    assert caught.value.where == str(still) and "repeats" in message_of(caught.value)


def test_a_trace_of_several_members_gives_the_events_of_each(tmp_path: Path) -> None:
    time = np.arange(0, 12, 0.02)
    rows = [
        f"{t:.2f};{name};{np.sin(2 * np.pi * (t - late)):.5f};{np.cos(2 * np.pi * (t - late)):.5f}".replace(".", ",")
        for name, late in (("Ada", 0.0), ("Zoë", 0.1))
        for t in time
    ]
    path = tmp_path / "gruppe.csv"
    path.write_bytes("\n".join(["Zeit;Mitglied;x (m);y (m)", *rows]).encode("cp1252"))
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=120, cycles=4, hand="right"))
    takes, mix, *_ = gather([str(path)], lay_plan=lambda _: plan, later={})
    assert mix is None
    assert list(takes) == ["Ada", "Zoë"]
    ada, zoe = (takes[name].onsets.time for name in ("Ada", "Zoë"))
    np.testing.assert_allclose((zoe[:9] - ada[:9] + 0.5) % 1 - 0.5, 0.1, atol=0.01)


@pytest.mark.parametrize(
    ("sources", "later", "laid", "message", "where", "hint"),
    [
        (
            ["a.csv", "Bo=b.csv"],
            {},
            True,
            "expected each member once, found 'Bo' again",
            "Bo=b.csv",
            "this one is left out: say NAME=FILE",
        ),
        (["a.csv"], {"Zoë": 1.0}, True, "expected a member (Ada, Bo), found Zoë", "--clock", None),
        (["gone.csv"], {}, True, "expected a take or a table, but there is no such file", "gone.csv", None),
        (
            ["far.csv"],
            {},
            True,
            "the last onset of Ada lies at 1900000000 s, where no take goes on",
            "group",
            "say how much later the take clock shows the same: --clock MEMBER=SECONDS",
        ),
        (["empty"], {}, True, "expected a folder with a file of each member, found none", "empty", None),
        (
            ["a.csv"],
            {},
            False,
            "nothing says what was asked for",
            "group",
            "give --tempo BPM, --music FILE, --plan PLAN.json or --drill DRILL",
        ),
    ],
)
def test_what_cannot_be_gathered_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, sources: list[str], later: dict[str, float], laid: bool,
    message: str, where: str, hint: str | None,
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    table(tmp_path / "a.csv", Ada="5", Bo="6")
    write(tmp_path / "b.csv", "time,hand\n5,right\n")
    table(tmp_path / "far.csv", Ada="5 1.9e9", Bo="6")
    (tmp_path / "empty").mkdir()
    with pytest.raises(CoachError) as caught:
        gather(sources, lay_plan=lay if laid else None, later=later)
    assert (message_of(caught.value), caught.value.where, hint_of(caught.value)) == (message, where, hint)

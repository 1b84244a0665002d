"""Performances of groups: kept once, found by group, gone with whoever is forgotten, and not lost in a merge."""

from __future__ import annotations

import math
import sqlite3
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.history.forget import find_going, forget
from tempo_coach.history.merge import merge
from tempo_coach.history.performances import find_performances, keep_performance
from tempo_coach.history.store import Store
from tempo_coach.history.takes import History
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.pattern.plan.every_count import lay_every_count
from tempo_coach.score.group.group import measure_group
from tests.history.test_store import VERSION_1
from tests.refused import refused

if TYPE_CHECKING:
    from pathlib import Path

    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.score.group.card import GroupCard

NAMES = ("Ada", "Bea", "Cyl", "Xylophia-Qwertz")  # invented
OFF = (0.0, 0.01, -0.01, 0.08)


def perform(seed: int = 1, *, away: bool = False) -> tuple[GroupCard, Plan]:
    """A group of four, the last 80 ms late; with ``away`` the first one 300 ms late in the second eight."""
    plan = lay_every_count(CountMap.steady(120), end=19.9, tempo_bpm=120)
    rows = np.array(OFF)[:, None] + 0.01 * np.random.default_rng(seed).standard_normal((4, len(plan.moments)))
    if away:
        rows[0, 8:16] += 0.3
    return measure_group(NAMES, rows, plan), plan


def keep(path: Path, seed: int = 1, *, team: str = "juniors", day: int = 4, away: bool = False) -> int:
    with History(path) as history:
        return keep_performance(history, *perform(seed, away=away), team=team, begun=f"2031-05-{day:02d}T18:00")


def test_what_was_kept_is_found_with_the_figures_of_the_card(tmp_path: Path) -> None:
    path = tmp_path / "history.sqlite"
    assert keep(path, away=True) == 1
    assert keep(path, away=True) == 1  # the same one
    assert keep(path, 2, day=3) == 2
    assert keep(path, 3, team="seniors") == 3
    with History(path, read_only=True) as history:
        earlier, later = find_performances(history, "juniors")
        assert [one.number for one in find_performances(history, "juniors", since="2031-05-04")] == [1]
        assert find_performances(history, "juniors", drill="clubs_mills") == ()
        with refused("no performance of a group 'junior' is in the history; did you mean juniors?"):
            find_performances(history, "junior")
    assert (earlier.day, later.day) == ("2031-05-03", "2031-05-04")
    card, plan = perform(away=True)
    assert later.moments == len(plan.moments) and later.title == plan.title
    assert (later.width_ms, later.sd_ms) == pytest.approx((1000 * card.width, 1000 * card.sd))
    for kept, member in zip(later.members, card.members, strict=True):
        assert kept.member == member.member and kept.n == member.n
        assert kept.offset_ms == pytest.approx(1000 * member.median_offset)
    assert [kept.away for kept in later.members] == [1, 0, 0, 0]


def test_what_is_not_known_is_none_in_the_file_and_not_a_number_in_the_program(tmp_path: Path) -> None:
    plan = lay_every_count(CountMap.steady(120), end=3.9, tempo_bpm=120)
    rows = np.zeros((3, len(plan.moments)))
    rows[2] = np.nan
    with History(tmp_path / "history.sqlite") as history:
        keep_performance(history, measure_group(NAMES[:3], rows, plan), plan, team="trio", begun="2031-05-04")
        ((bias,),) = history.ask("SELECT bias_ms FROM performer ORDER BY rowid LIMIT 1 OFFSET 2")
        (found,) = find_performances(history, "trio")
    assert bias is None and math.isnan(found.members[2].bias_ms) and found.members[2].n == 0


def test_who_is_forgotten_is_in_no_performance_and_a_merge_does_not_bring_her_back(tmp_path: Path) -> None:
    here, there = tmp_path / "here.sqlite", tmp_path / "there.sqlite"
    keep(here), keep(there), keep(there, 2, day=5)
    with History(here) as history:
        forget(history, find_going(history, NAMES[3]))
        (found,) = find_performances(history, "juniors")
        assert [m.member for m in found.members] == list(NAMES[:3])
    assert NAMES[3].encode() not in here.read_bytes()
    with History(here) as history:
        merged = merge(history, there)
        assert merged.performances == 1 and merged.forgotten == (NAMES[3],)
        assert [[m.member for m in one.members] for one in find_performances(history, "juniors")] == [
            list(NAMES[:3])
        ] * 2
        assert merge(history, there).performances == 0
    with History(here) as history:  # and the other way round nothing is lost
        assert len(find_performances(history, "juniors")) == 2


def test_a_history_of_the_first_version_can_keep_groups(tmp_path: Path) -> None:
    path = tmp_path / "history.sqlite"
    with Store(path) as fresh:
        tables = {row[0] for row in fresh.ask("SELECT name FROM sqlite_master")}
    old = tmp_path / "old.sqlite"
    connection = sqlite3.connect(old)
    connection.executescript(VERSION_1.read_text(encoding="utf-8"))
    connection.close()
    assert keep(old) == 1
    with Store(old) as upgraded:
        assert tables <= {row[0] for row in upgraded.ask("SELECT name FROM sqlite_master")}

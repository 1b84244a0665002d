"""Histories of two machines with the people's own files: nothing doubled or lost, and two of one name told apart."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import pytest

from tempo_coach.coach.person_form import change_person
from tempo_coach.coach.sharing import hand_over_person, merge_histories
from tempo_coach.history.forget import find_going, forget
from tempo_coach.history.roster import Person, find_person, people_folder, save_person
from tempo_coach.history.season import Goal
from tempo_coach.history.store import copies_of, restore
from tempo_coach.history.takes import History
from tempo_coach.report.words.sharing import format_merged
from tests.ui.history.test_screen import open_season

if TYPE_CHECKING:
    from pathlib import Path

SPRING, SUMMER = Goal("clubs_mills", date(2031, 3, 14), 112.0), Goal("clubs_mills", date(2031, 6, 1), 116.0)


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    """Two histories in folders of their own; Ada is in both, Bea there alone."""
    found = []
    for place, names in (("here", ("Ada", "Zoë", "Mia")), ("there", ("Ada", "Bea", "Mia"))):
        (tmp_path / place).mkdir()
        with open_season(tmp_path / place, names) as history:
            found.append(history.path)
    return found[0], found[1]


def takes_of(file: Path) -> dict[str, int]:
    with History(file, read_only=True) as history:
        return {each.name: each.takes for each in history.athletes()}


def test_how_people_practise_comes_with_their_takes_and_what_is_said_here_stays(files: tuple[Path, Path]) -> None:
    here, there = files
    save_person(people_folder(there), Person("Bea", hand="left", goals=(SPRING,)))
    save_person(people_folder(there), Person("Ada", hand="left", goals=(SPRING, SUMMER)))
    save_person(people_folder(there), Person("Nobody", level="seniors"))  # no take of hers is there
    save_person(people_folder(here), Person("Ada", hand="right", goals=(SPRING,)))
    merge_histories(here, there)
    assert find_person(people_folder(here), "Bea") == Person("Bea", hand="left", goals=(SPRING,))
    assert find_person(people_folder(here), "Ada") == Person("Ada", hand="right", goals=(SPRING, SUMMER))
    assert find_person(people_folder(here), "Nobody") == Person("Nobody")


def test_whoever_comes_under_another_name_has_it_in_her_file_too(files: tuple[Path, Path], tmp_path: Path) -> None:
    here, there = files
    save_person(people_folder(there), Person("Bea", level="juniors"))
    hand_over_person(there, "Bea", tmp_path / "bea.sqlite")
    merge_histories(here, tmp_path / "bea.sqlite", rename={"Bea": "Bea K."})
    assert find_person(people_folder(here), "Bea K.") == Person("Bea K.", level="juniors")


def test_two_people_of_one_name_can_be_told_apart_after_a_merge(files: tuple[Path, Path], tmp_path: Path) -> None:
    here, there = files
    with History(there) as history, history.writing() as connection:  # other takes of another Ada
        connection.execute("UPDATE take SET mark = randomblob(32)")
    before = takes_of(here)
    merged = merge_histories(here, there)
    assert merged.both == ("Ada", "Mia") and merged.before is not None
    assert format_merged(merged).endswith(f"  tempo-coach history --restore {merged.before}")
    assert restore(merged.before, here) is not None
    assert takes_of(here) == before
    again = merge_histories(here, there, rename={"Ada": "Ada 2"})
    assert takes_of(here)["Ada"] == before["Ada"] and "Ada 2" in again.athletes


def test_a_merge_that_brings_nothing_of_them_keeps_no_copy(files: tuple[Path, Path]) -> None:
    here, there = files
    merge_histories(here, there)
    kept = len(copies_of(here))
    merged = merge_histories(here, there)
    assert merged.takes == 0 and merged.before is None and len(copies_of(here)) == kept


def test_a_name_that_was_put_right_here_is_put_right_in_what_comes(files: tuple[Path, Path]) -> None:
    here, there = files
    before = takes_of(here)
    change_person(here, "Ada", Person("Ada K."))
    with History(there) as history, history.writing() as connection:
        connection.execute("UPDATE take SET mark = randomblob(32)")
    merge_histories(here, there)
    after = takes_of(here)
    assert "Ada" not in after and after["Ada K."] == before["Ada"] + takes_of(there)["Ada"]


def test_whoever_was_forgotten_does_not_come_back_under_an_earlier_name(files: tuple[Path, Path]) -> None:
    here, there = files
    change_person(here, "Ada", Person("Ada K."))
    with History(there) as history, history.writing() as connection:
        connection.execute("UPDATE take SET mark = randomblob(32)")
    merge_histories(here, there)
    with History(here) as history:
        forget(history, find_going(history, "Ada K."))
    merged = merge_histories(here, there)
    assert merged.forgotten == ("Ada",)
    assert not {"Ada", "Ada K."} & set(takes_of(here))
    for copy in copies_of(here):
        assert not {"Ada", "Ada K."} & set(takes_of(copy))

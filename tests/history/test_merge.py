"""Histories put together: nothing twice, nothing lost, nobody who was forgotten."""

from __future__ import annotations

import contextlib
import sqlite3
from pathlib import Path

import pytest

from tempo_coach.errors import CoachError
from tempo_coach.history import take_corrections as corrections
from tempo_coach.history.forget import find_going, forget
from tempo_coach.history.merge import hand_over, merge
from tempo_coach.history.records import Wanted
from tempo_coach.history.takes import History
from tests.history.season import put, said_of
from tests.history.test_store import VERSION_1
from tests.refused import refused

MADE = "2031-06-01T09:00:00"


@pytest.fixture
def pair(tmp_path):
    """Two histories that share takes 1 to 3, with one more each."""
    paths = tmp_path / "here.sqlite", tmp_path / "there.sqlite"
    for path, own in zip(paths, (4, 5), strict=True):
        with History(path) as history:
            for seed in (1, 2, 3, own):
                put(history, seed, begun=f"2031-05-0{seed}", note=f"note {seed}")
    return paths


def told(path):
    with History(path, read_only=True) as history:
        history.check()
        return {
            (row.athlete, row.day): ([note.text for note in history.notes(take=row.number)], row.sentence)
            for row in history.find()
        }


def numbers(merged):
    return merged.takes, merged.known, merged.cards, merged.notes, merged.removed


def test_what_is_there_comes_once_and_whole(pair):
    here, there = pair
    before = there.read_bytes()
    with History(here) as history:
        merged = merge(history, there)
        assert not list(there.parent.glob(f"{there.name}-*"))
        assert numbers(merged) == (1, 3, 0, 0, 0) and merged.both == ("Ada",) and not merged.conflicts
        assert numbers(merge(history, there)) == (0, 4, 0, 0, 0)
        (new,) = (row.number for row in history.find(Wanted(since="2031-05-05")))
        with History(there, read_only=True) as other:
            (old,) = (row.number for row in other.find(Wanted(since="2031-05-05")))
            for a, b in ((history.take(new), other.take(old)),):
                assert a.card == b.card and a.take.onsets.time.tolist() == b.take.onsets.time.tolist()
    assert set(told(here)) == {("Ada", f"2031-05-0{k}") for k in range(1, 6)}
    assert there.read_bytes() == before


def test_it_does_not_matter_which_way_round(pair, tmp_path):
    here, there = pair
    copy = tmp_path / "copy.sqlite"
    copy.write_bytes(there.read_bytes())
    with History(copy) as history:
        merge(history, here)
    with History(here) as history:
        merge(history, there)
    assert told(here) == told(copy)


def test_a_history_is_not_merged_with_itself(pair):
    here, _ = pair
    with History(here) as history, refused("expected another history, found this one"):
        merge(history, here)
    with History(here) as history:
        link = here.with_name("link")
        link.symlink_to(here)
        with refused("found this one"):
            merge(history, link)


def test_conflicts_are_told_and_what_is_here_stays(pair):
    here, there = pair
    with History(there) as other:
        corrections.move(other, 1, to="Bea", made=MADE)
        corrections.set_counting(other, 2, reason="fell", made=MADE)
    with History(here) as history:
        merged = merge(history, there)
        assert [tuple(each) for each in merged.conflicts] == [(1, "athlete", "Ada", "Bea"), (2, "counting", "", "fell")]
        assert numbers(merged) == (1, 3, 0, 0, 0)
        assert len(history.find(Wanted(athlete="Ada"))) == 5 and history.row(2).reason == ""


def test_one_take_of_two_athletes_stays_two(tmp_path):
    paths = tmp_path / "a.sqlite", tmp_path / "b.sqlite"
    for path in paths:
        with History(path) as history:
            for name in ("Ada", "Bea"):
                put(history, 1, athlete=name)
    with History(paths[0]) as history:
        assert numbers(merge(history, paths[1])) == (0, 2, 0, 0, 0)


def test_new_scorecards_and_notes_come_to_takes_that_are_here(pair):
    here, there = pair
    with History(there) as other:
        other.put_card(1, said_of(9), steady=False, made=MADE)
        other.put_note("one more", written=MADE, take=1)
        other.put_note("of her", written=MADE, athlete="Ada")
    with History(here) as history:
        assert numbers(merge(history, there)) == (1, 3, 1, 2, 0)
        kept = history.take(1)
        assert kept.card == said_of(9) and kept.older == 1 and [n.text for n in kept.notes] == ["note 1", "one more"]
        assert numbers(merge(history, there)) == (0, 4, 0, 0, 0)


def test_what_was_removed_or_forgotten_here_does_not_come_back(pair):
    here, there = pair
    with History(there) as other:
        put(other, 1, athlete="Zoë", begun="2031-05-20")
        put(other, 2, athlete="Mia", begun="2031-05-21")
    with History(here) as history:
        merge(history, there)
        (mia,) = history.find(Wanted(athlete="Mia"))
        corrections.remove(history, mia.number, made=MADE)
        forget(history, find_going(history, "Zoë"))
        merged = merge(history, there)
        assert merged.forgotten == ("Zoë",) and numbers(merged) == (0, 5 - 1 + 0, 0, 0, 1)
        assert [each.name for each in history.athletes() if each.takes] == ["Ada"]
        # under another name on the other machine she does not come back either: her takes are marked
        with History(there) as other:
            (hers,) = other.find(Wanted(athlete="Zoë"))
            corrections.move(other, hers.number, to="Z.", made=MADE)
        assert merge(history, there).removed == 2
        names = b"".join(file.read_bytes() for file in here.parent.glob("here.sqlite*"))
        assert "Zoë".encode() not in names


def test_who_was_forgotten_comes_where_somebody_says_so(pair):
    here, there = pair
    with History(here) as history:
        forget(history, find_going(history, "Ada"))
        assert merge(history, there).forgotten == ("Ada",)
        assert merge(history, there, again=["Ada"]).takes == 4
        assert merge(history, there).forgotten == ()  # she is here: nobody has to be asked any more


def test_a_name_that_nobody_has_there_is_told_and_capitals_do_not_matter(pair):
    here, there = pair
    with History(here) as history:
        forget(history, find_going(history, "Ada"))
        with refused("nobody is called 'Adda' in the other history"):
            merge(history, there, again=["Adda"])
        with refused("nobody is called 'Adda' in the other history"):
            merge(history, there, rename={"Adda": "Ada K."})
        assert merge(history, there, again=["ADA"]).takes == 4


def test_two_of_one_name_are_kept_apart_by_another_name(pair):
    here, there = pair
    with History(here) as history:
        merged = merge(history, there, rename={"Ada": "Ada K."})
        assert merged.athletes == ("Ada K.",)
        # the takes that both have are the same one's
        assert [each.what for each in merged.conflicts] == ["athlete"] * 3


def test_an_older_version_is_taken_in_and_left_as_it_was(tmp_path):
    old = tmp_path / "old.sqlite"
    with contextlib.closing(sqlite3.connect(old)) as connection:
        connection.executescript(VERSION_1.read_text())
    before = old.read_bytes()
    with History(tmp_path / "new.sqlite") as history:
        assert merge(history, old).takes == 1
        (row,) = history.find()
        assert (row.athlete, row.cues, row.reason) == ("Ada", "", "")
        assert len(history.take(row.number).take.onsets) == 16
    assert old.read_bytes() == before


@pytest.mark.parametrize(
    ("kind", "code"),
    [
        ("text", "merge.no_history"),
        ("empty", "history.empty"),
        ("folder", "history.folder"),
        ("cut", "merge.no_history"),
        ("gone", "file.missing"),
    ],
)
def test_what_is_no_history_changes_nothing_and_says_which_file_is_wanted(pair, kind, code):
    here, there = pair
    before = told(here)
    other = there.with_name("other")
    match kind:
        case "text":
            other.write_text("no history at all\n" * 100)
        case "empty":
            other.write_bytes(b"")
        case "folder":
            other.mkdir()
        case "cut":
            other.write_bytes(there.read_bytes()[:-5000])
    with History(here) as history:
        with pytest.raises(CoachError) as caught:
            merge(history, other)
        assert history.connection.in_transaction is False
    assert (caught.value.code, caught.value.where) == (code, str(other))
    assert told(here) == before


def test_one_athlete_is_handed_over_as_one_file(pair, tmp_path):
    here, _ = pair
    to = tmp_path / "ada.sqlite"
    with History(here) as history:
        put(history, 6, athlete="Bea", note="of Bea")
        history.put_note("of her", written=MADE, athlete="Ada")
        assert hand_over(history, "Ada", to, person="name = 'Ada'") == 4
    assert sorted(path.name for path in tmp_path.glob("ada.sqlite*")) == ["ada.sqlite"]
    assert b"Bea" not in to.read_bytes()
    with History(tmp_path / "new.sqlite") as elsewhere:
        merged = merge(elsewhere, to)
        assert (merged.takes, merged.people) == (4, {"Ada": "name = 'Ada'"})
        assert [note.text for note in elsewhere.notes(athlete="Ada")][-1] == "of her"
    assert {key: value for key, value in told(here).items() if key[0] == "Ada"} == told(tmp_path / "new.sqlite")


def test_long_names_of_any_script_go_through(tmp_path):
    name = "Ἀριάδνη-" * 6 + "舞子 של‎ون"
    with History(tmp_path / "a.sqlite") as history:
        put(history, 1, athlete=name)
        hand_over(history, name, tmp_path / "b.sqlite")
    with History(tmp_path / "c.sqlite") as history:
        assert len(merge(history, Path(tmp_path / "b.sqlite")).athletes) == 1

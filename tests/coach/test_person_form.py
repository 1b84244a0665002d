"""A person as a form: everything that is known of her is there, and what is changed is kept."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TYPE_CHECKING

import pytest

from tempo_coach.coach.choices import recall
from tempo_coach.coach.person_form import (
    TEMPO,
    change_person,
    list_voices,
    make_person_form,
    person_from_form,
    titles_of,
)
from tempo_coach.history.roster import Person, file_of, find_person, people_folder, save_person
from tempo_coach.history.takes import History
from tests.history.test_roster import ADA
from tests.refused import refused
from tests.ui.history.test_screen import open_season

if TYPE_CHECKING:
    from pathlib import Path

    from tempo_coach.coach.practising.form import Form

WHOLE = replace(ADA, delay_ms=42.0)


def form_of(person: Person) -> Form:
    return make_person_form(person, titles_of(person), voices=list_voices(), devices=("speakers",))


def put(form: Form, **values: str) -> Form:
    for key, value in values.items():
        form = form.put(replace(form.line(key), value=value))
    return form


def test_what_nobody_changes_comes_back_as_it_was() -> None:
    assert person_from_form(form_of(WHOLE), WHOLE) == WHOLE
    assert person_from_form(form_of(Person("Bea")), Person("Bea")) == Person("Bea")


def test_every_field_of_a_person_is_in_a_line() -> None:
    bea = Person("Bea", chosen={"drill": "clubs_mills"})
    changed = person_from_form(
        put(
            form_of(bea),
            name="Bea K.",
            hand="left",
            mirrored="yes",
            apparatus="clubs, Rope",
            level="juniors",
            keys="k, d",
            voice="de",
            device="speakers",
            delay_ms="35",
            minutes="40",
            **{f"{TEMPO}clubs_mills": "104"},
        ),
        bea,
    )
    assert replace(changed, chosen={}) == Person(
        "Bea K.",
        hand="left",
        mirrored=True,
        apparatus=("clubs", "rope"),
        level="juniors",
        keys="kd",
        voice="de",
        device="speakers",
        delay_ms=35.0,
        minutes=40,
        tempi={"clubs_mills": 104.0},
    )
    assert changed.chosen == {"drill": "clubs_mills", "device": "speakers", "tempo": "104"}, "the set-up follows"
    as_before = {each.name for each in fields(Person) if getattr(changed, each.name) == getattr(bea, each.name)}
    assert as_before == {"drills", "goals", "used", "earlier"}, "set elsewhere; whatever else she has is in the form"


def test_another_leading_hand_turns_the_drills_in_the_set_up(tmp_path: Path) -> None:
    history = tmp_path / "history.sqlite"
    bea = Person("Bea", chosen={"hands": "as taught"})
    save_person(people_folder(history), bea)
    change_person(history, "Bea", person_from_form(put(form_of(bea), hand="left"), bea))
    assert recall(history, "Bea").lines == {"hands": "mirrored"}


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("keys", "jj", "different key for each hand, such as jf, found 'jj'"),
        ("apparatus", "clubs, rings", "ribbon.*found 'rings'"),
        ("delay_ms", "5000", "expected .* to .*, got"),
        (f"{TEMPO}clubs_mills", "2", "expected .* to .*, got"),
    ],
)
def test_what_cannot_be_is_refused(key: str, value: str, said: str) -> None:
    with refused(said):
        person_from_form(put(form_of(WHOLE), **{key: value}), WHOLE)


def test_a_name_put_right_goes_for_all_of_her_takes_and_files(tmp_path: Path) -> None:
    with open_season(tmp_path) as history:
        (name, takes, *_), *others = history.athletes()
    file, folder = history.path, people_folder(history.path)
    save_person(folder, Person(name, level="juniors"))
    session = file_of(folder, name).with_suffix(".session.json")
    session.write_text("{}")
    change_person(file, name, replace(find_person(folder, name), name="Нина Орлова"))
    with History(file) as history:
        assert {each.name: each.takes for each in history.athletes()} == {
            "Нина Орлова": takes,
            **{each.name: each.takes for each in others},
        }
    nina = find_person(folder, "Нина Орлова")
    assert (nina.level, nina.earlier) == ("juniors", (name,)) and not file_of(folder, name).exists()
    assert file_of(folder, "Нина Орлова").with_suffix(".session.json").exists() and not session.exists()


def test_the_name_of_somebody_else_is_refused_and_nothing_is_lost(tmp_path: Path) -> None:
    with open_season(tmp_path) as history:
        before = history.athletes()
    folder = people_folder(history.path)
    save_person(folder, Person("Dora", level="seniors"))
    name = before[0].name
    for taken in (*(each.name for each in before[1:]), "Dora"):
        with refused("somebody of the name"):
            change_person(history.path, name, Person(taken))
    with refused("expected a name"):
        change_person(history.path, name, Person("  "))
    with History(history.path) as history:
        assert history.athletes() == before
    assert find_person(folder, "Dora").level == "seniors"

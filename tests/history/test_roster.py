"""People in readable files: written and read again whole, told apart, and told of where they are damaged."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tempo_coach.history.roster import (
    Person,
    complete_name,
    file_of,
    find_person,
    list_people,
    read_person,
    save_person,
)
from tempo_coach.history.season import Goal
from tempo_coach.report.words.errors import say_error
from tests.refused import refused

ADA = Person(
    "Ada",
    hand="left",
    mirrored=True,
    apparatus=("rope", "clubs"),
    level="juniors",
    keys="fj",
    voice="en",
    device="speakers",
    delay_ms=42.5,
    minutes=20,
    drills=("clubs_mills",),
    goals=(Goal("clubs_mills", date(2031, 3, 14), 112.0, "ones", "the spring show"),),
    tempi={"clubs_mills": 104.0},
    chosen={"drill": "clubs_mills", "takes": "3"},
    used="2031-01-05T18:15",
)


def test_everything_comes_back_and_nobody_else_reads_it(tmp_path):
    path = save_person(tmp_path, ADA)
    assert read_person(path) == ADA
    assert path.stat().st_mode & 0o077 == 0
    assert find_person(tmp_path, " Ada ") == ADA
    assert find_person(tmp_path, "Bea") == Person("Bea")
    save_person(tmp_path, Person("Bea"))
    assert (tmp_path / file_of(tmp_path, "Bea").name).read_text() == 'name = "Bea"\n'


@settings(max_examples=60, deadline=None)
@given(st.text(st.characters(exclude_categories=("Cc", "Cs", "Cn")), min_size=1, max_size=60).filter(str.strip))
def test_a_name_of_sixty_letters_of_any_script_has_a_file(tmp_path_factory, name):
    folder = tmp_path_factory.mktemp("people")
    path = save_person(folder, Person(" ".join(name.split()) or "x"))
    assert path.name.isascii() and len(path.name) < 60
    assert list_people(folder)[0] == (find_person(folder, name),)


def test_whoever_practised_last_is_first_and_a_damaged_file_takes_nobody_else_away(tmp_path):
    for name, used in (("Ada", "2031-01-05"), ("Bea", "2031-01-07"), ("Cyl", "")):
        save_person(tmp_path, Person(name, used=used))
    (tmp_path / "broken.toml").write_text("name = ")
    (tmp_path / "odd.toml").write_text(
        'name = "Dör"\nminutes = 15\nhands = 2\n[[goal]]\ndrill = "x"\ntempo = 100\non = 5'
    )
    people, problems = list_people(tmp_path)
    assert [person.name for person in people] == ["Bea", "Ada", "Cyl"]
    told = "\n".join(map(say_error, problems))
    for part in ("broken.toml:1", "odd.toml:2: minutes", "odd.toml:3: hands", "did you mean hand?", "expected a day"):
        assert part in told


@pytest.mark.parametrize(
    ("typed", "name"), [("Ada", "Ada"), ("ad", "Ada"), ("bea k", "Bea K."), ("Mia", "Mia"), ("bea", "Bea")]
)
def test_first_letters_are_enough(typed, name):
    assert complete_name(typed, ["Ada", "Bea", "Bea K.", "Adé"][: 4 if typed != "ad" else 3]) == name


def test_letters_that_several_names_begin_with_are_asked_for():
    with refused("several names begin with 'a': Ada, Adé"):
        complete_name("a", ["Ada", "Adé", "Bea"])


def test_a_goal_of_the_same_drill_and_day_is_changed():
    other = Goal("clubs_mills", date(2031, 3, 14), 100.0)
    assert ADA.with_goal(other).goals == (other,)
    assert len(ADA.with_goal(Goal("clubs_mills", date(2031, 2, 1), 100.0)).goals) == 2

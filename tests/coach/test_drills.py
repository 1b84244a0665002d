"""Drills by name or path: mirrored, for one hand, beside the routine that names them."""

from pathlib import Path

import pytest

from tempo_coach import coach
from tempo_coach.coach.drills import drill_beside
from tempo_coach.errors import CoachError
from tempo_coach.pattern.drill.drill import Drill
from tempo_coach.pattern.drill.drill_file import find_drill, read_drill
from tempo_coach.report.words.errors import hint_of, message_of


@pytest.fixture
def own(tmp_path: Path) -> Path:
    path = tmp_path / "meine Übung 音.toml"
    path.write_text(find_drill("clubs_mills").read_text(encoding="utf-8"), encoding="utf-8")
    return path


def sides(drill: Drill) -> list[tuple[str, float]]:
    """Its hands, and the count of the cycle at which each has its first low point."""
    return [(hand.name, hand.moments[0].at) for hand in drill.pattern.hands]


def test_a_name_and_a_path_lead_to_the_same_drill(own: Path) -> None:
    by_name, by_path = coach.load_drill("clubs_mills"), coach.load_drill(str(own))
    assert (by_name.name, by_path.name) == ("clubs_mills", own.stem)
    assert by_name.pattern == by_path.pattern == read_drill(own).pattern
    assert by_name.practice == by_path.practice
    assert by_name.title == by_path.title == "Clubs: forward mills, half a circle apart"


def test_mirrored_left_and_right_change_places_and_lags_stay() -> None:
    assert sides(coach.load_drill("clubs_mills")) == [("right", 1), ("left", 2)]
    assert sides(coach.load_drill("clubs_mills", mirrored=True)) == [("left", 1), ("right", 2)]


def test_one_hand_alone_is_the_one_of_that_name_after_mirroring() -> None:
    assert sides(coach.load_drill("clubs_mills", hand="left")) == [("left", 2)]
    assert sides(coach.load_drill("clubs_mills", hand="left", mirrored=True)) == [("left", 1)]


def test_a_hand_that_it_has_not_is_refused() -> None:
    with pytest.raises(CoachError) as caught:
        coach.load_drill("clubs_mills", hand="foot")
    assert message_of(caught.value) == "expected one of its hands (right, left), got 'foot'"
    assert caught.value.where == "clubs_mills"


@pytest.mark.parametrize(
    ("name", "hint"),
    [
        ("club_mills", "did you mean clubs_mills?"),
        ("nothing like it", "tempo-coach drills lists those that came with the program"),
    ],
)
def test_a_drill_that_is_not_there_is_named_and_a_near_one_suggested(name: str, hint: str) -> None:
    with pytest.raises(CoachError) as caught:
        coach.load_drill(name)
    assert message_of(caught.value) == "there is no drill of that name, and no file either"
    assert (caught.value.where, hint_of(caught.value)) == (name, hint)


def test_a_file_that_is_no_drill_is_named_with_its_line(own: Path) -> None:
    own.write_text("title = 3\n", encoding="utf-8")
    with pytest.raises(CoachError) as caught:
        coach.load_drill(str(own))
    assert caught.value.where is not None and caught.value.where.startswith(f"{own}:1")


def test_only_files_of_her_own_lie_beside_the_routine(tmp_path: Path) -> None:
    routine = tmp_path / "my routine.toml"
    assert drill_beside(routine, "clubs_mills") == "clubs_mills"
    assert drill_beside(routine, "own drill.toml") == str(tmp_path / "own drill.toml")
    elsewhere = str(tmp_path / "other" / "own.toml")
    assert drill_beside(routine, elsewhere) == elsewhere

"""What is thrown: its drag from size and mass, and a mistyped name guessed."""

import pytest

from tempo_coach.pattern.toss.bodies import find_body
from tests.refused import refused


@pytest.mark.parametrize("word", ["rope", "Ribbon"])
def test_no_ballistic_plan_holds_for_what_bends(word):
    with refused("no ballistic plan holds"):
        find_body(word)


def test_a_mistyped_apparatus_is_guessed():
    assert find_body("hoop").name == "hoop on edge"
    with refused("did you mean ball"):
        find_body("bal")
    with refused("expected an apparatus that flies"):
        find_body("trampoline")

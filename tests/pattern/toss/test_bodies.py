"""What is thrown: its drag from size and mass, and a mistyped name guessed."""

import pytest

from tempo_coach.errors import CoachError
from tempo_coach.pattern.toss.bodies import find_body


@pytest.mark.parametrize("word", ["rope", "Ribbon"])
def test_no_ballistic_plan_holds_for_what_bends(word):
    with pytest.raises(CoachError, match="no ballistic plan holds"):
        find_body(word)


def test_a_mistyped_apparatus_is_guessed():
    assert find_body("hoop").name == "hoop on edge"
    with pytest.raises(CoachError, match="did you mean ball"):
        find_body("bal")
    with pytest.raises(CoachError, match="expected an apparatus that flies"):
        find_body("trampoline")

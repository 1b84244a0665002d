"""Keys for hands: the forefingers' ones first, none twice, none that leads through the screens."""

import pytest

from tempo_coach.live.practice.hand_keys import NAMED_KEYS, RESERVED_KEYS, SPARE_KEYS, can_be_a_hand, default_keys


def test_a_usual_key_that_is_taken_is_not_given_twice() -> None:
    assert default_keys(("right", "left"), (("right", "f"),)) == (("right", "f"), ("left", "j"))


def test_other_parts_leave_the_forefingers_keys_to_the_hands() -> None:
    keys = dict(default_keys(("rope", "right", "arm", "left")))
    assert (keys["right"], keys["left"]) == ("j", "f")
    assert {keys["rope"], keys["arm"]} <= set(SPARE_KEYS) - {"j", "f"}


def test_a_part_beyond_the_fingers_of_a_hand_gets_a_key_too() -> None:
    keys = dict(default_keys(tuple(f"member {number}" for number in range(1, 13))))
    assert len(set(keys.values())) == 12 and all(can_be_a_hand(key) for key in keys.values())


@pytest.mark.parametrize("key", [*sorted(RESERVED_KEYS), "ctrl+c", "alt+x", "f1", ""])
def test_a_key_that_leads_through_the_screens_can_be_no_hands(key: str) -> None:
    assert not can_be_a_hand(key)


@pytest.mark.parametrize("key", [*sorted(NAMED_KEYS), "x", "7", "ä"])
def test_any_other_key_can_be_one(key: str) -> None:
    assert can_be_a_hand(key)

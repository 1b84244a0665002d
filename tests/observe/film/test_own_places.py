"""Who keeps her place, in pictures drawn here: blocks for bodies, an arm that turns; the truth is who stands where."""

import numpy as np
import pytest

from tempo_coach.observe.film.after_crossing import find_standing_again
from tempo_coach.observe.film.own_places import judge_places, watch_places

RATE, SIZE, HOMES = 6.0, (60, 160), (30, 80, 130)
TIME = np.arange(66) / RATE
SWAP = {0: (5.0, 80 - 30), 1: (5.0, 30 - 80)}


def shown(ways=None, *, still=0.0, stranger=None, dress=90):
    """Three gymnasts, some of whom walk so many columns from a second on, for 1.5 s; ``still`` before they begin."""
    rng = np.random.default_rng(3)
    wall = 150 + 8 * rng.standard_normal(SIZE).cumsum(axis=1) / 10
    out = []
    for time in TIME:
        picture = wall.copy()
        people = [(k, home, *(ways or {}).get(k, (0.0, 0))) for k, home in enumerate(HOMES)]
        if stranger is not None:  # somebody else walks by, before them
            people.append((3, -12, stranger, 200))
        for k, home, start, far in people:
            x = round(home + far * float(np.clip((time - start) / (1.5 if k < 3 else 6.0), 0, 1)))
            if not 8 <= x < SIZE[1] - 8:
                continue
            if dress is not None:  # else she is dark before a dark wall
                picture[24:54, x - 4 : x + 4] = dress
            turn = 2 * np.pi * max(0.0, time - still) / 0.9 + 0.2 * k
            hand = round(25 + 7 * np.cos(turn)), round(x + 7 * np.sin(turn))
            picture[hand[0] - 2 : hand[0] + 2, hand[1] - 2 : hand[1] + 2] = 235
        out.append(np.clip(picture + 1.5 * rng.standard_normal(SIZE), 0, 255))
    return np.array(out, dtype=np.uint8)


def nearest():
    owner = np.abs(np.arange(SIZE[1])[:, None] - HOMES).argmin(axis=1)
    return np.array([np.tile(owner == k, (SIZE[0], 1)) for k in range(3)], dtype=np.uint8)


def test_who_changes_places_is_not_known_from_then_on_and_the_others_are():
    known = watch_places(TIME, shown(SWAP), nearest())
    assert all(4.0 <= until <= 5.5 for until in known.until[:2])
    assert known.until[2] == np.inf
    assert known.covered[2] == ()


def test_who_walks_beside_them_is_seen_where_only_what_they_hold_is():
    known = watch_places(TIME, shown(SWAP, dress=None), nearest())
    assert max(known.until[:2]) <= 5.5
    assert known.until[2] == np.inf


@pytest.mark.parametrize("start", [1.5, 8.5])
def test_a_change_of_places_at_the_begin_or_the_end_is_seen(start):
    known = watch_places(TIME, shown({k: (start, far) for k, (_, far) in SWAP.items()}), nearest())
    assert max(known.until[:2]) <= start + 0.5


def test_who_keeps_her_place_is_known_whether_or_not_she_begins_late():
    for still in (0.0, 5.0):
        assert watch_places(TIME, shown(still=still), nearest()).until == (np.inf,) * 3


def test_who_walks_by_before_all_of_them_may_be_any_of_them():
    known = watch_places(TIME, shown(stranger=3.0), nearest())
    assert all(until < 9 for until in known.until)


def test_one_who_was_hidden_alone_and_shortly_is_known_again():
    disturbed = np.zeros((3, TIME.size), dtype=np.bool_)
    disturbed[1, (TIME > 4) & (TIME < 5)] = True
    known = judge_places(TIME, disturbed)
    assert known.until == (np.inf,) * 3
    assert known.covered[1] == (pytest.approx((3.6, 5.4), abs=0.3),)


def test_one_who_was_away_for_long_is_not_and_whom_she_may_meet_is_not_either():
    disturbed = np.zeros((3, TIME.size), dtype=np.bool_)
    disturbed[1, (TIME > 3) & (TIME < 7)] = True
    disturbed[2, (TIME > 9) & (TIME < 9.5)] = True
    known = judge_places(TIME, disturbed)
    assert known.until == (np.inf, pytest.approx(2.6, abs=0.3), pytest.approx(8.6, abs=0.3))


def test_after_a_change_of_places_all_are_found_where_they_stand():
    homes = np.array([[home, 30.0] for home in HOMES])
    found = find_standing_again(TIME, shown(SWAP), 4.8, homes)
    assert 6.0 <= found.since <= 7.5  # they walk from 5 to 6.5 s
    assert found.at[:, 0] == pytest.approx(HOMES, abs=4)
    restless = {0: (5.0, 50), 1: (6.5, -50), 2: (8.0, -50)}
    assert find_standing_again(TIME, shown(restless), 4.8, homes) is None

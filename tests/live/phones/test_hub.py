"""The session as the server knows it: phones, rows of a take, what comes late, and what nobody may do."""

import math

import pytest

from tempo_coach.live.phones import hub as hubs
from tempo_coach.live.phones.clocks import Opening
from tempo_coach.live.phones.hub import SILENT, Hub
from tempo_coach.live.phones.messages import Got, Message

#: Ours when the phone's clock was 0, and how long every message takes.
ZERO, DELAY = 500.0, 0.01
PAGE = Opening("p")


class Talk:
    """One phone of a hub."""

    def __init__(self, hub: Hub, *, roles=("tap",), fields=("right", "left"), confirmed=True) -> None:
        self.hub, self.number, self.got = hub, hub.join(hub.door.token, ZERO)["number"], []
        if confirmed:
            hub.confirm(self.number, "Ada", roles, fields)
        for k in range(3):
            self.say(k / 10)

    def say(self, at: float, rows=(), *, first=0, page=PAGE, of=None, later=0.0) -> dict:
        """Send a message at a time of the page's clock; the answer to it comes back with the next one."""
        message = Message(at, page, of or page, first, [list(row) for row in rows], got=self.got)
        here = ZERO + at + later + DELAY
        reply = self.hub.answer(self.number, message, here)
        self.hub.sent(self.number, reply, here)
        self.got = [Got(reply["ping"], at + 2 * DELAY)] if "ping" in reply else []
        return reply


def told(hub: Hub, what: str) -> list[dict]:
    found = [event for event in hub.events if event["event"] == what]
    hub.events = [event for event in hub.events if event["event"] != what]
    return found


def test_taps_of_a_take_are_told_as_they_come_and_collected_once_it_is_over():
    hub = Hub()
    phone = Talk(hub)
    hub.begin(1, ZERO + 1.0)
    phone.say(2.0, [[1.5, 0, 0], [1.8, 0, 1]])
    taps = told(hub, "tap")
    assert [tap["hand"] for tap in taps] == ["right", "left"]
    assert taps[0]["stamp"] == pytest.approx(ZERO + 1.5, abs=1e-3) and taps[0]["half"] >= DELAY
    hub.end(ZERO + 3.0)
    hub.collect(whole=False)
    assert told(hub, "waiting") and not told(hub, "collected")  # gathering takes long: not while rows are awaited
    hub.collect()
    (collected,) = told(hub, "collected")
    assert not collected["phones"][0]["complete"]
    phone.say(3.5, [[2.5, 0, 0], [3.2, 0, 0]], first=2)
    hub.collect()
    (found,) = told(hub, "collected")[0]["phones"]
    assert found["complete"] and [hand for _, _, hand in found["taps"]] == ["right", "left", "right"]


def test_what_came_before_we_had_said_that_a_take_begins_is_its_own():
    hub = Hub()
    phone = Talk(hub)
    for take, begun in ((1, 1.0), (2, 5.0)):
        phone.say(begun + 0.4, [[begun - 2.5, 0, 0], [begun + 0.2, 0, 0], [begun + 0.3, 0, 1]], first=6 * take - 6)
        hub.begin(take, ZERO + begun)
        assert [tap["hand"] for tap in told(hub, "tap")] == ["right", "left"]
        phone.say(begun + 0.8, [[begun + 0.7, 0, 0]] * 3, first=6 * take - 3)
        hub.end(ZERO + begun + 1)
        hub.collect()
        assert len(told(hub, "collected")[0]["phones"][0]["taps"]) == 5
        told(hub, "tap")


def test_a_reading_after_the_end_of_a_take_is_none_of_it_and_is_not_kept():
    hub = Hub()
    phone = Talk(hub, roles=("worn",), fields=("right",))
    hub.begin(1, ZERO + 1.0)
    phone.say(2.0, [[1.5, 1, 0, 0, 9.8, 0, 0, 1]])
    hub.end(ZERO + 2.0)
    hub.collect()
    for k in range(5):
        phone.say(3.0 + k, [[3.0 + k, 1, 0, 0, 9.8, 0, 0, 1]], first=1 + k)
    assert len(hub.phones[phone.number].rows) == 1


def test_before_anybody_confirmed_it_a_phone_adds_nothing():
    hub = Hub()
    phone = Talk(hub, confirmed=False)
    hub.begin(1, ZERO)
    reply = phone.say(1.0, [[0.9, 0, 0], [0.95, 3, 0]])
    assert reply["next"] == 2 and reply["shown"] == {} and not told(hub, "tap") and not told(hub, "remote")


def test_a_phone_does_only_what_its_roles_are():
    hub = Hub()
    phone = Talk(hub, roles=("count",))
    hub.begin(1, ZERO)
    phone.say(1.0, [[0.9, 0, 0], [0.92, 1, 0, 0, 0, 0, 0, 0], [0.95, 3, 0]])
    assert not told(hub, "tap") and not told(hub, "remote") and not hub.phones[phone.number].rows


def test_the_remote_is_obeyed_once_and_not_long_after():
    hub = Hub()
    phone = Talk(hub, roles=("remote",))
    phone.say(1.0, [[0.95, 3, 0]])
    phone.say(1.1, [[0.95, 3, 0]])
    assert [event["wanted"] for event in told(hub, "remote")] == [0]
    phone.say(30.0, [[2.0, 3, 1]], first=1)
    assert not told(hub, "remote")


def test_a_gap_is_answered_and_what_comes_again_is_no_second_tap():
    hub = Hub()
    phone = Talk(hub)
    hub.begin(1, ZERO)
    reply = phone.say(1.0, [[0.9, 0, 0]], first=4)
    assert reply["gap"] and reply["next"] == 0
    for _ in range(3):
        phone.say(1.1, [[k / 10, 0, 0] for k in range(5, 10)])
    assert len(told(hub, "tap")) == 5


def test_rows_of_a_page_that_was_loaded_again_keep_its_clock():
    hub = Hub()
    phone = Talk(hub)
    hub.begin(1, ZERO + 0.2)
    phone.got = []
    for k in range(3):  # the second page's clock begins when the first one's is at 1
        phone.say(k / 10, [[0.8, 0, 1]] if k == 2 else [], page=Opening("q"), of=PAGE, later=1.0)
    (tap,) = told(hub, "tap")
    assert tap["stamp"] == pytest.approx(ZERO + 0.8, abs=0.005)


def test_readings_of_an_opening_that_reached_nobody_itself_are_of_the_take_too():
    hub = Hub()
    phone = Talk(hub, roles=("worn",), fields=("right",))
    lost, anew = Opening("lost", 1.0), Opening("anew", 2.0)  # their clocks begin when the first one's is at 1 and 2
    phone.got = []
    for k in range(3):  # told before the take is known to have begun
        rows = [[0.9, 1, 0.0, 0.0, 9.8, 0.0, 0.0, 1.0]] if k == 2 else []
        phone.say(k / 10, rows, page=anew, of=lost, later=2.0)
    hub.begin(1, ZERO + 1.8)
    hub.end(ZERO + 2.2)
    hub.collect()
    (found,) = told(hub, "collected")[0]["phones"]
    assert [row[0] for row in found["readings"]] == [pytest.approx(ZERO + 1.9, abs=0.02)]


def test_no_more_openings_are_followed_than_a_page_has(monkeypatch):
    monkeypatch.setattr(hubs, "_MOST_PAGES", 3)
    hub = Hub()
    phone = Talk(hub)
    replies = [phone.say(1.0 + k, of=Opening(f"q{k}")) for k in range(4)]
    assert ["slow" in reply for reply in replies] == [False, False, True, True]


def test_who_says_nothing_is_silent_and_comes_back():
    hub = Hub()
    phone = Talk(hub)
    hub.look(ZERO + 1 + SILENT)
    hub.look(ZERO + 2 + SILENT)
    assert len(told(hub, "silent")) == 1
    phone.say(9.0)
    assert len(told(hub, "back")) == 1


def test_a_locked_screen_is_a_gap_of_the_take():
    hub = Hub()
    phone = Talk(hub, roles=("worn",), fields=("right",))
    hub.begin(1, ZERO + 1)
    phone.say(3.0, [[1.5, 2, 0], [2.5, 2, 1], [2.8, 2, 0]])
    hub.end(ZERO + 4)
    hub.collect()
    hidden = told(hub, "collected")[0]["phones"][0]["hidden"]
    assert [edge - ZERO for span in hidden for edge in span] == pytest.approx([1.5, 2.5, 2.8, 4.0], abs=1e-3)


def test_a_flood_is_told_to_slow_down_and_fills_nothing(monkeypatch):
    hub = Hub()
    phone = Talk(hub)
    hub.begin(1, ZERO)
    assert sum("slow" in phone.say(1.0 + k / 1e4) for k in range(500)) > 300
    monkeypatch.setattr(hubs, "MOST_ROWS", 10)
    phone.say(40.0, [[39.0 + k / 100, 0, 0] for k in range(50)])
    assert len(hub.phones[phone.number].rows) == 10


def test_a_clock_that_jumps_is_told_and_the_take_goes_on():
    hub = Hub()
    phone = Talk(hub)
    hub.begin(1, ZERO)
    for k in range(4):
        phone.say(1.0 + k / 10, later=30.0)
    assert len(told(hub, "jumped")) == 1
    phone.say(1.6, [[1.5, 0, 0]], later=30.0)
    assert told(hub, "tap")[0]["stamp"] == pytest.approx(ZERO + 31.5, abs=0.005)


def test_two_of_one_name_are_two_and_one_that_leaves_takes_nothing_along():
    hub = Hub()
    one, two = Talk(hub), Talk(hub)
    hub.begin(1, ZERO)
    for k, phone in enumerate((one, two)):
        phone.say(1.0, [[0.5 + k / 10, 0, 0]])
    hub.end(ZERO + 0.9)
    hub.collect()
    assert [len(phone["taps"]) for phone in told(hub, "collected")[0]["phones"]] == [1, 1]
    hub.refuse(one.number)
    again = Talk(hub)
    assert again.number not in (one.number, two.number) and not hub.knows(one.number)
    again.say(2.0)
    hub.collect(whole=False)
    (after,) = told(hub, "collected")
    assert sorted(len(phone["taps"]) for phone in after["phones"]) == [0, 1, 1], "what it gave stays"
    assert {phone["phone"] for phone in after["phones"] if phone["complete"]} >= {one.number, again.number}
    hub.begin(2, ZERO + 3.0)
    assert one.number not in hub.phones and math.isfinite(hub.phones[two.number].complete_until)


def test_a_phone_whose_page_was_closed_is_known_when_it_comes_again():
    hub = Hub()
    hub.join(hub.door.token, ZERO, me="a1b2")
    hub.join(hub.door.token, ZERO, me="c3")
    hub.join(hub.door.token, ZERO, me="a1b2")
    hub.join(hub.door.token, ZERO)
    assert [event["before"] for event in told(hub, "asks")] == [0, 0, 1, 0]


def test_a_clock_that_jumps_on_purpose_is_not_followed_for_ever():
    hub = Hub()
    stranger = Talk(hub, confirmed=False)
    for k in range(250):
        stranger.say(1.0 + 1000.0 * (k % 2), later=k * 0.2)
    assert not told(hub, "jumped"), "nothing is told of one whom nobody let in"
    assert hub.phones[stranger.number].clocks.of(PAGE).jumps <= 100
    other = Talk(hub)
    assert "slow" not in other.say(2.0)


def test_a_flood_of_taps_is_cut_and_what_a_person_taps_is_not():
    hub = Hub()
    phone = Talk(hub)
    hub.begin(1, ZERO)
    number = 0
    for k in range(40):
        rows = [[1.0 + k / 10, 0, 0]] * 400
        phone.say(1.0 + k / 10, rows, first=number)
        number = hub.phones[phone.number].book.next
    assert number > 8000, "they are acknowledged"
    assert len(hub.phones[phone.number].rows) <= 6000 + 4 * 25 + 25
    calm = Talk(hub)
    for k in range(200):
        calm.say(1.0 + k / 10, [[1.0 + k / 10, 0, 0]], first=k)
    assert len(hub.phones[calm.number].rows) == 200

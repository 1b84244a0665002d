"""Phones are let in: the code is read by a reader that is not ours, and a name and a role are given."""

from __future__ import annotations

import asyncio

import numpy as np
import pytest

pytest.importorskip("segno")
pytest.importorskip("cv2")

import cv2

from tempo_coach.live.phones.joined import JoinedPhone
from tempo_coach.ui import terminal
from tempo_coach.ui.app import AloneApp
from tempo_coach.ui.practice.joining import JoiningScreen, draw_code, list_roles
from tests import HANG

URL = "https://192.168.100.100:18765/#t=PkJPjavtF4Tk"
SIGNS = {" ": (0, 0), "▀": (1, 0), "▄": (0, 1), "█": (1, 1)}


class FakePhones:
    """Phones without a server."""

    def __init__(self) -> None:
        self.url, self.fingerprint, self.trouble, self.note = URL, "1234 5678 … 9ABC", None, ""
        self.watched = False
        self.phones = {1: JoinedPhone(1, "48"), 2: JoinedPhone(2, "85")}
        self.told: list[tuple] = []

    @property
    def unconfirmed(self):
        return tuple(each for each in self.phones.values() if not each.roles)

    def rivals(self, joined):
        return [each for each in self.phones.values() if each.number != joined.number and each.excludes(joined)]

    def confirm(self, number, *, name, roles, fields):
        self.told.append((number, name, roles, fields))
        self.phones[number] = JoinedPhone(number, "48", name, roles, fields, 0.004)

    def refuse(self, number):
        self.told.append((number,))
        del self.phones[number]


@pytest.mark.parametrize("coloured", [True, False])
def test_a_reader_of_another_make_reads_the_code(coloured):
    rows = draw_code(URL, coloured=coloured)
    assert len(rows) <= 20 and max(row.cell_len for row in rows) <= 40
    modules = np.array([[SIGNS[sign][half] for sign in row.plain] for row in rows for half in (0, 1)])
    light = 1 - modules if coloured else modules
    picture = np.kron(np.pad(light, 2, constant_values=1), np.ones((8, 8))).astype(np.uint8) * 255
    assert cv2.QRCodeDetector().detectAndDecode(picture)[0] == URL


def test_each_hand_can_be_tapped_or_worn():
    said = [role.said for role in list_roles(("right", "left"))]
    assert "worn, left" in said and "tap, right alone" in said and len(set(said)) == len(said)
    assert all("alone" not in role.said for role in list_roles(("rope",)))


def test_where_nothing_else_asks_for_news_the_screen_does(monkeypatch):
    phones = FakePhones()
    phones.url = ""
    phones.poll = lambda: setattr(phones, "url", URL)
    opened = []
    monkeypatch.setattr(terminal, "check_terminal", lambda: None)
    monkeypatch.setattr(terminal, "run_app", opened.append)
    terminal.let_phones_in(phones, hands=("body",), names=["Ada"])

    async def check() -> None:
        async with opened[0].run_test(size=(80, 24)) as pilot:
            while "https" not in "\n".join(row.plain for row in opened[0].screen.draw_page(80, 22).rows):
                await pilot.pause(0.05)
            phones.phones.clear()
            await pilot.press("enter")
            await pilot.pause()
            assert opened[0].return_code == 0 and not opened[0].is_running, "it is over, and the command goes on"

    asyncio.run(asyncio.wait_for(check(), HANG))


def test_whose_place_a_phone_takes_is_said_before_it_does():
    phones = FakePhones()
    phones.phones[1] = JoinedPhone(1, "48", "Ada", ("tap",), ("right", "left"), 0.004)
    phones.phones[2] = JoinedPhone(2, "85", before=0)

    async def check() -> None:
        app = AloneApp(JoiningScreen(phones, hands=("right", "left"), names=["Ada", "Bea"]))
        async with app.run_test(size=(100, 30)) as pilot:
            await pilot.pause()
            assert "place of 48 of Ada" in " ".join(
                " ".join(row.plain[40:].split()) for row in app.screen.draw_page(100, 28).rows
            )
            for _ in range(6):
                await pilot.press("right")
            shown = "\n".join(row.plain for row in app.screen.draw_page(100, 28).rows)
            assert "count" in shown and "place of" not in shown

    asyncio.run(check())


@pytest.mark.parametrize(("places", "said"), [(("forearm", "ankle"), "here: forearm, ankle"), ((), "danger")])
def test_where_a_worn_phone_feels_the_drill_is_said_when_one_is_to_be_worn(places, said):
    phones = FakePhones()
    phones.phones[2] = JoinedPhone(2, "85", before=0)

    async def check() -> None:
        app = AloneApp(JoiningScreen(phones, hands=("rope",), names=["Ada"], worn_at=places))
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.pause()
            shown = []
            for _ in list_roles(("rope",)):
                rows = app.screen.draw_page(80, 22).rows
                shown.append(" ".join(" ".join(row.plain[36:].split()) for row in rows))
                await pilot.press("right")
            assert [said in each for each in shown] == ["worn, rope" in each for each in shown]

    asyncio.run(check())


def test_a_phone_gets_a_role_and_a_name_and_another_is_sent_away():
    phones = FakePhones()

    async def check() -> None:
        app = AloneApp(JoiningScreen(phones, hands=("right", "left"), names=["Ada", "Bea"]))
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.pause()
            shown = "\n".join(row.plain for row in app.screen.draw_page(80, 22).rows)
            assert "48" in shown and "https://192.168.100.100:18765" in shown and "#t=" not in shown
            await pilot.press("down", "right", "enter")
            await pilot.press("backspace")
            assert phones.told == [(1, "Bea", ("tap", "remote"), ("right", "left")), (2,)]
            shown = "\n".join(row.plain for row in app.screen.draw_page(80, 22).rows)
            assert "Bea: tap remote" in shown and "±4 ms" in shown

    asyncio.run(check())

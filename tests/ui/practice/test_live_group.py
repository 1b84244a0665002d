"""The screen of a group that moves: every member on it at the least size, and its card by itself."""

from __future__ import annotations

import asyncio
import math

import pytest

from tempo_coach.coach.practising.group_takes import MEMBERS
from tempo_coach.coach.practising.picture import PracticePicture
from tempo_coach.live.practice.session import Stage
from tempo_coach.score.group.now import MemberNow
from tempo_coach.ui.app import AloneApp
from tempo_coach.ui.group import GroupScreen
from tempo_coach.ui.palette import find_palette
from tempo_coach.ui.practice.live_group import LiveGroupScreen, draw_live_group
from tests.coach.practising.test_group_conductor import NAMES, PLAN
from tests.ui import fakes

PICTURE = PracticePicture(
    Stage.PLAYING, title="Clubs", place="eight 2", take="take 1", number="4", now="circle", sentence="A sentence."
)


@pytest.mark.parametrize(("width", "height"), [(80, 24), (100, 30)])
@pytest.mark.parametrize("members", MEMBERS)
def test_all_members_and_what_has_to_be_said_fit(width, height, members):
    standings = [MemberNow(f"Name {k}", 0.3 - 0.1 * k, 0.01, (k % 3) - 1) for k in range(members)]
    standings[0] = MemberNow("Ада 木", math.nan, math.nan, 0)
    rows = draw_live_group(PICTURE, standings, width=width, height=height - 1, palette=find_palette())
    text = "\n".join(row.plain for row in rows)
    assert all(row.cell_len == width for row in rows) and len(rows) == height - 1
    assert all(one.member in text for one in standings) and "A sentence." in text
    assert ("< early" in text) == ("late >" in text) == (members > 2) or members == 2


def test_from_the_keys_to_the_card():
    stage = fakes.Stage(PLAN)
    screen = LiveGroupScreen(stage.context, NAMES, clock=stage.clock)

    async def check() -> None:
        async with AloneApp(screen).run_test(size=(80, 24)) as pilot:
            await pilot.press("a", "b", "c")
            assert screen.note == "Ada: A   Bea: B   Cyl: C"
            await pilot.press("enter")
            await fakes.wait_until(pilot, lambda: screen.conductor.session.stage is Stage.PLAYING)
            zero = stage.clock.now
            for time in PLAN.moments.time[:6]:
                for key in "abc":
                    stage.clock.now = zero + float(time) + 0.1 * (key == "c")
                    await pilot.press(key)
            stage.clock.now += 0.5
            await pilot.press("enter")
            await fakes.wait_until(pilot, lambda: isinstance(pilot.app.screen, GroupScreen))
            assert screen.conductor.takes[0].judged.card.members[2].offset > 0.05
            await pilot.press("enter")
            assert pilot.app.screen is screen
            await pilot.press("tab")
            assert isinstance(pilot.app.screen, GroupScreen)

    asyncio.run(check())

"""The group screen: every view at two sizes, and groups that have little to show."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.score.group.card import MemberEight
from tempo_coach.score.group.group import judge_group
from tempo_coach.score.group.one_recording import judge_mix
from tempo_coach.ui.app import AloneApp
from tempo_coach.ui.group import VIEWS, GroupScreen, draw_group
from tempo_coach.ui.palette import PLAIN
from tests.score.group.test_together import COUNTS, THROWN, take
from tests.ui import snapshots
from tests.ui.fakes import in_a_loop, rows, wait_until

if TYPE_CHECKING:
    from tempo_coach.score.group.card import GroupCard

SIZES = ((80, 24), (100, 30))
#: Nothing is thrown where :func:`judge_five` has them.
SHOWN = tuple(name for name in VIEWS if name != "exchanges")


def judge_five(names: tuple[str, ...] = ("Ada", "Bea", "Cyl", "Dör", "E" * 30)) -> GroupCard:
    generator = np.random.default_rng(1)
    times = COUNTS.moments.time
    takes = {}
    for name, late in zip(names, (0.0, 0.02, 0.08, -0.02, 0.0), strict=True):
        off = late + generator.normal(0, 0.01, len(times))
        off[12] += 0.2 * (name == names[1])
        takes[name] = take(times + off)
    return judge_group(takes)


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_what_it_looks_like(width: int, height: int) -> None:
    card = judge_five()

    async def look() -> None:
        app = AloneApp(GroupScreen(card))
        async with app.run_test(size=(width, height)) as pilot:
            await wait_until(pilot, lambda: "A group" in rows(app)[0])
            for name in SHOWN:
                snapshots.check(f"group_{name.replace(' ', '_')}", rows(app), width=width, height=height)
                await pilot.press("tab")
            await pilot.press("left", "right", "down", "pagedown", "home")
            snapshots.check("group_members", rows(app), width=width, height=height)

    in_a_loop(look())


def test_a_members_own_card_is_one_key_away() -> None:
    card = judge_five()

    async def look() -> None:
        app = AloneApp(GroupScreen(card))
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: "members" in rows(app)[0])
            await pilot.press("3")
            await wait_until(pilot, lambda: "Cyl" in rows(app)[0])
            text = "\n".join(rows(app))
            cells = [one for one in card.by_eight if one.member == "Cyl"]
            assert all(f"{1000 * one.offset:+.0f}" in text for one in cells)
            await pilot.press("right")
            await wait_until(pilot, lambda: "Dör" in rows(app)[0])
            await pilot.press("9")  # there is no ninth
            await pilot.press("tab")
            await wait_until(pilot, lambda: "members" in rows(app)[0])

    in_a_loop(look())


def test_of_more_than_nine_each_key_stands_before_a_name() -> None:
    five = judge_five()
    members = tuple(five.members[k % 5]._replace(member=f"Gymnast {k + 1}") for k in range(12))
    card = replace(five, members=members, left=(), by_eight=())

    async def look() -> None:
        app = AloneApp(GroupScreen(card))
        async with app.run_test(size=(80, 30)) as pilot:
            await wait_until(pilot, lambda: "members" in rows(app)[0])
            text = "\n".join(rows(app))
            assert "0 Gymnast 10 " in text and "b Gymnast 12 " in text and "the key before her name" in text
            for key, name in (("0", "Gymnast 10"), ("b", "Gymnast 12")):
                await pilot.press(key)
                await wait_until(pilot, lambda name=name: name in rows(app)[0])

    in_a_loop(look())


@pytest.mark.parametrize("eights", [3, 40])
def test_the_picture_of_members_by_eights_is_read_without_colour(eights: int) -> None:
    card = replace(
        judge_five(),
        by_eight=tuple(
            MemberEight(member.member, eight + 1, offset, 0.01, 8, offset == 0.2)
            for member in judge_five().members
            for eight, offset in zip(range(eights), (0.2, -0.04, math.nan) * eights, strict=False)
        ),
    )
    page = draw_group(card, view=VIEWS.index("members by eights"), first_row=0, width=80, height=60, palette=PLAIN)
    assert all(row.cell_len == 80 for row in page.rows)
    ada = next(row.plain for row in page.rows if row.plain.startswith("  Ada"))
    assert ada[18:30] == "!>██ <▒▒    "


def test_exchanges_are_told_from_hand_to_hand() -> None:
    asked = THROWN.moments.time
    card = judge_group({"a": take(asked, THROWN), "b": take(asked + 0.01, THROWN)}, partners={"a": "b", "b": "a"})
    page = draw_group(card, view=VIEWS.index("exchanges"), first_row=0, width=80, height=24, palette=PLAIN)
    assert "a to b: 2.01 s from hand to hand, 10 ms longer than asked" in "\n".join(row.plain for row in page.rows)


def test_one_recording_of_several_has_every_view() -> None:
    times = np.concatenate([COUNTS.moments.time, COUNTS.moments.time + 0.03])
    card = judge_mix(Take(COUNTS, Onsets.unsorted(times.tolist(), ["body"] * len(times))))
    for view in range(len(VIEWS)):
        page = draw_group(card, view=view, first_row=0, width=80, height=24, palette=PLAIN)
        assert len(page.rows) == 24
        assert all(row.cell_len == 80 for row in page.rows)
    assert "Who was who cannot be told" in "\n".join(
        row.plain for row in draw_group(card, view=0, first_row=0, width=80, height=24, palette=PLAIN).rows
    )


def test_more_members_than_rows_can_be_scrolled() -> None:
    card = judge_group({f"member {k}": take(COUNTS.moments.time + 0.001 * k) for k in range(30)})
    top = draw_group(card, view=0, first_row=0, width=80, height=24, palette=PLAIN)
    end = draw_group(card, view=0, first_row=99, width=80, height=24, palette=PLAIN)
    assert top.first == 0 and top.more > 0 and end.more == 0 and end.first < 99
    assert "member 29" in "\n".join(row.plain for row in end.rows)


def test_each_view_says_which_one_it_is_and_the_foot_what_comes_next() -> None:
    async def look() -> None:
        app = AloneApp(GroupScreen(judge_five()))
        async with app.run_test(size=(80, 24)) as pilot:
            for name, following in zip(SHOWN, (*SHOWN[1:], SHOWN[0]), strict=True):
                await wait_until(pilot, lambda name=name: name in rows(app)[0])
                assert f"Tab {following}" in rows(app)[-1]
                await pilot.press("tab")
            await pilot.press("left")
            await wait_until(pilot, lambda: SHOWN[-1] in rows(app)[0])

    in_a_loop(look())

"""Tables as people have them: each read right, or refused with what to do."""

from pathlib import Path

import pytest

from tests.observe.trace.layouts import (
    LAYOUTS,
    MEMBERS,
    ONSETS,
    SECOND_LOOK,
    Layout,
    judge,
    judge_members,
    judge_onsets,
)


@pytest.mark.parametrize("layout", [*LAYOUTS, *SECOND_LOOK], ids=lambda layout: layout.name)
def test_a_table_of_readings_gives_what_it_holds(layout: Layout, tmp_path: Path) -> None:
    assert not judge(layout, tmp_path)


@pytest.mark.parametrize("language", ONSETS)
def test_a_table_of_onsets_gives_times_and_hands(language: str, tmp_path: Path) -> None:
    assert not judge_onsets(ONSETS[language], tmp_path)


@pytest.mark.parametrize("language", MEMBERS)
def test_a_table_of_members_gives_their_times(language: str, tmp_path: Path) -> None:
    assert not judge_members(MEMBERS[language], tmp_path)

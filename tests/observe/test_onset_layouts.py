"""Tables of onsets and members as people have them: each read right."""

from pathlib import Path

import pytest

from tests.observe.onset_layouts import MEMBERS, ONSETS, judge_members, judge_onsets


@pytest.mark.parametrize("language", ONSETS)
def test_a_table_of_onsets_gives_times_and_hands(language: str, tmp_path: Path) -> None:
    assert not judge_onsets(ONSETS[language], tmp_path)


@pytest.mark.parametrize("language", MEMBERS)
def test_a_table_of_members_gives_their_times(language: str, tmp_path: Path) -> None:
    assert not judge_members(MEMBERS[language], tmp_path)

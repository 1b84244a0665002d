"""Tables of readings as people have them: each read right, or refused with what to do."""

from pathlib import Path

import pytest

from tests.observe.trace.layout_judge import Layout, judge
from tests.observe.trace.layouts import LAYOUTS, SECOND_LOOK


@pytest.mark.parametrize("layout", [*LAYOUTS, *SECOND_LOOK], ids=lambda layout: layout.name)
def test_a_table_of_readings_gives_what_it_holds(layout: Layout, tmp_path: Path) -> None:
    assert not judge(layout, tmp_path)

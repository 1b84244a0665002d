"""How many of something, as it is said."""

import pytest

from tempo_coach.report.words.amounts import several


@pytest.mark.parametrize(("number", "said"), [(0, "0 takes"), (1, "1 take"), (2, "2 takes"), (1000, "1000 takes")])
def test_one_alone_is_no_plural(number, said):
    assert several(number, "take") == said

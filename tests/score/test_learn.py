"""A good take becomes a drill that reads back, and is set beside what is taught."""

from pathlib import Path

import numpy as np
import pytest

from tempo_coach.errors import CoachError
from tempo_coach.pattern.files import find_drill, read_drill
from tempo_coach.score.learn import learn_drill, set_beside
from tempo_coach.score.study import study
from tests.generators import movement


def test_a_rope_take_becomes_a_drill_with_its_own_places(tmp_path: Path) -> None:
    found = study(movement.rope(5).trace)
    learned = learn_drill(found, title='A "good" take', apparatus="rope", counts=4)
    path = tmp_path / "good.toml"
    path.write_text(learned.text, encoding="utf-8")
    drill = read_drill(path)
    assert drill.title == 'A "good" take'
    assert drill.pattern.cycle_counts == 4
    assert drill.practice.tempo_bpm == pytest.approx(120, rel=0.03)
    # the low point is in the middle of the phase low
    places = np.array([moment.at for moment in drill.pattern.hands[0].moments]) / 4 - 0.125
    np.testing.assert_allclose(places, [0.0, 0.41, 0.62], atol=0.012)
    assert all(abs(row.off) < 1e-3 for row in set_beside(drill.pattern, found))


def test_two_clubs_keep_their_lag(tmp_path: Path) -> None:
    found = study(movement.mills(5, lag=0.5).trace)
    path = tmp_path / "mills.toml"
    path.write_text(learn_drill(found, title="mills", counts=2).text, encoding="utf-8")
    drill = read_drill(path)
    assert drill.pattern.hand_names == ("first", "second")
    assert drill.pattern.hands[1].moments[0].at == pytest.approx(1, abs=0.05)
    assert drill.practice.tempo_bpm == pytest.approx(200, rel=0.03)


def test_what_stood_out_is_left_out_and_said() -> None:
    learned = learn_drill(study(movement.rope(3, fault="extra").trace), title="t", tempo_bpm=120)
    assert learned.counts == 4
    assert any("extra" in reason for reason in learned.left_out)
    assert "# left out: cycle" in learned.text


def test_taught_and_done_differ_as_they_were_made() -> None:
    # taught: two circles while high; a good take shows them as the arm is almost up and as it starts down
    drill = read_drill(find_drill("rope_figure_eight"))
    rows = set_beside(drill.pattern, study(movement.rope(4).trace))
    assert [row.label for row in rows] == ["low", "high 1", "high 2"]
    off = [row.off for row in rows]
    np.testing.assert_allclose(off, [0.0, 0.41 - 0.4375, 0.62 - 0.5625], atol=0.012)


def test_a_circle_too_few_and_one_too_many_are_told() -> None:
    drill = read_drill(find_drill("rope_figure_eight"))
    fewer = set_beside(drill.pattern, study(movement.rope(4, places=(0.0, 0.5)).trace))
    assert sum(row.done is None for row in fewer) == 1
    more = set_beside(drill.pattern, study(movement.rope(4, places=(0.0, 0.25, 0.5, 0.75)).trace))
    assert [row.label for row in more][-1] == "not asked for"


def test_what_cannot_be_learned_is_said() -> None:
    found = study(movement.mills(1).trace)
    with pytest.raises(CoachError, match="got both"):
        learn_drill(found, title="t", counts=2, tempo_bpm=100)
    with pytest.raises(CoachError, match="beats a minute"):
        learn_drill(found, title="t", counts=12)
    with pytest.raises(CoachError, match="3 whole"):
        learn_drill(study(movement.mills(1, n=2, jitter=0).trace), title="t")

"""A planned toss in words: the range of its speed in air, and moves under it."""

import pytest

from tempo_coach.pattern.toss.bodies import BODIES
from tempo_coach.pattern.toss.drag import add_drag
from tempo_coach.pattern.toss.moves import Move, fit_moves
from tempo_coach.pattern.toss.toss import Toss
from tempo_coach.report.words.toss import format_fits, format_toss

TOSS = Toss(2.0, 1.8, 1.2, 3.0, 4)


@pytest.mark.parametrize("name", ["ball", "hoop face on"])
def test_words_in_air_have_the_range_of_the_speed(name):
    [drag] = add_drag([TOSS], BODIES[name])
    told = " ".join(format_toss(TOSS, drag).split())
    assert f"{drag.speed_low_mps:.1f} to {drag.speed_high_mps:.1f} m/s" in told
    assert "without air it would be 9.6 m/s" in told


def test_moves_fit_just_fit_or_do_not():
    told = format_fits(fit_moves(3, (Move("clap", 1), Move("a roll", 3), Move("two rolls", 4)))).splitlines()[1:]
    assert [line.split(": ")[1] for line in told] == ["fits, 2 counts to spare", "just fits", "1 count too long"]

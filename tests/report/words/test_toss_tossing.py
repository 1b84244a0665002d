import pytest

from tempo_coach.pattern.toss.bodies import BODIES
from tempo_coach.pattern.toss.drag import add_drag
from tempo_coach.pattern.toss.moves import Move, fit_moves
from tempo_coach.pattern.toss.solver import solve_toss
from tempo_coach.pattern.toss.toss import Toss
from tempo_coach.report.words.toss import format_fits, format_toss, say_release

TOSS = Toss(2.0, 1.8, 1.2, 3.0, 4)


def test_a_measured_release_becomes_one_sentence():
    # independent: the toss of that release solved anew lands where the sentence says
    flat = solve_toss(speed_mps=TOSS.speed_mps, angle_deg=TOSS.angle_deg - 11, release_m=1.8, catch_m=1.2)
    said = say_release(TOSS, angle_deg=TOSS.angle_deg - 11, speed_mps=TOSS.speed_mps)
    assert said.startswith(f"let go 11° too flat: it lands {flat.distance_m - 3:.1f} m further")
    steep = say_release(TOSS, angle_deg=TOSS.angle_deg + 2, speed_mps=TOSS.speed_mps + 0.5)
    assert steep.startswith("let go 2° too steep and 0.5 m/s too fast: it lands 0.")
    assert "nearer and 1" in steep
    assert say_release(TOSS, angle_deg=TOSS.angle_deg + 0.2, speed_mps=TOSS.speed_mps) == "let go as planned"


def test_a_release_that_does_not_come_up_says_so():
    low = Toss(0.8, 0.5, 1.2, 2.0)
    assert say_release(low, angle_deg=low.angle_deg, speed_mps=1).endswith("does not come up to the catch")


@pytest.mark.parametrize("name", ["ball", "hoop face on"])
def test_words_in_air_have_the_range_of_the_speed(name):
    [drag] = add_drag([TOSS], BODIES[name])
    told = " ".join(format_toss(TOSS, drag).split())
    assert f"{drag.speed_low_mps:.1f} to {drag.speed_high_mps:.1f} m/s" in told
    assert "without air it would be 9.6 m/s" in told


def test_moves_fit_just_fit_or_do_not():
    told = format_fits(fit_moves(3, (Move("clap", 1), Move("a roll", 3), Move("two rolls", 4)))).splitlines()[1:]
    assert [line.split(": ")[1] for line in told] == ["fits, 2 counts to spare", "just fits", "1 count too long"]

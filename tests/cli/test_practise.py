"""What is asked for wrongly is said before any screen opens."""

import pytest

from tempo_coach.cli import main
from tests.refused import refused


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["clubs_mils"], "did you mean clubs_mills?"),
        (["clubs_mills", "--keys", "xx"], "a different key for each of right and left"),
        (["clubs_mills", "--keys", "xyz"], "a different key for each of right and left"),
        (["clubs_mills", "--ready", "-1"], "expected 0 to 600, got -1"),
        (["clubs_mills", "--again", "0"], "expected 1 to 100, got 0"),
        (["clubs_mills", "--rest", "0"], "expected 1 to 3600, got 0"),
        (["clubs_mills"], "the screens need a terminal"),
    ],
)
def test_each_is_one_sentence_without_a_trace(arguments, words, capfd, monkeypatch):
    monkeypatch.setattr("sys.stdin.isatty", lambda: False, raising=False)
    assert main(["practise", *arguments]) == 1
    said = capfd.readouterr()
    assert words in said.err and "Traceback" not in said.err and said.out == ""


def test_a_take_that_exists_is_not_overwritten(tmp_path):
    from pathlib import Path

    from tempo_coach.coach import Request
    from tempo_coach.coach.practising.start import prepare_practice

    (tmp_path / "a").write_text("mine")
    with refused("not overwritten"):
        prepare_practice(Request("clubs_mills"), take_file=Path(tmp_path / "a"))


def test_steps_of_tempo_on_music_are_steps_of_its_speed(music):
    from tempo_coach import coach
    from tempo_coach.coach.practising.start import prepare_practice
    from tempo_coach.live.practice.session import Way
    from tempo_coach.pattern.drill.drill import TempoSteps

    heard = coach.hear(music)
    request = coach.Request("rope_figure_eight", music=str(music), eights=2, speed=0.9)
    context = prepare_practice(request, heard=heard, way=Way(steps=TempoSteps(60, 120)))
    own = heard.counts.tempo_bpm
    assert context.tempo_bpm == pytest.approx(0.9 * own)
    assert context.way.steps is not None
    assert (context.way.steps.lowest, context.way.steps.highest) == pytest.approx((0.5 * own, 1.2 * own))
    plan, sound = context.sound_of(context.tempo_bpm + 4)
    assert plan.speed == pytest.approx(0.9 + 4 / own)
    assert len(sound.samples) / sound.rate_hz == pytest.approx(plan.duration + 0.5, abs=0.01)

"""A plan as JSON, and back."""

import json
import math

import numpy as np
import pytest

from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.pattern.plan.layout import lay_out
from tempo_coach.pattern.plan.plan_file import plan_from_dict, plan_to_dict, read_plan
from tempo_coach.report.words.errors import say_error
from tests.pattern.made_up import MUSIC, make_drill, paused_music
from tests.refused import refused


def test_a_plan_comes_back_from_its_file_as_it_was(tmp_path):
    plan = lay_out(make_drill(circles=2), paused_music(), music=MUSIC, from_eight=2, eights=2, speed=0.9)
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(plan_to_dict(plan)))
    again = read_plan(path)
    assert plan_to_dict(again) == plan_to_dict(plan)
    assert again.place(18) == plan.place(18)
    for name in ("time", "cycle", "count", "asked_lag_deg", "cue"):
        np.testing.assert_array_equal(getattr(again.moments, name), getattr(plan.moments, name))
    assert (again.moments.hand, again.moments.label, again.moments.kind) == (
        plan.moments.hand,
        plan.moments.label,
        plan.moments.kind,
    )
    assert (again.music, again.eights, again.pieces) == (plan.music, plan.eights, plan.pieces)


def test_a_plan_of_a_version_before_runs_of_routines_has_cycles_of_one_shape():
    data = plan_to_dict(lay_out(make_drill(), CountMap.steady(100), tempo_bpm=100, cycles=3))
    del data["passage"]["cycle_starts"]
    assert plan_from_dict(data, where="plan.json").cycle_starts.tolist() == [0, 4, 8]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "a plan in JSON, but"),
        ("{", "a plan in JSON, but"),
        ("[" * 99_999, "a plan in JSON, but"),
        ('{"version": ' + "9" * 5000 + "}", "a plan in JSON, but"),
    ],
)
def test_a_file_that_is_no_json_is_said(tmp_path, text, words):
    path = tmp_path / "plan.json"
    path.write_text(text)
    with refused(words):
        read_plan(path)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda d: d | {"version": 99}, "version 1, found version 99"),
        (lambda d: {k: v for k, v in d.items() if k != "moments"}, "'moments' is missing"),
        (lambda d: {k: v for k, v in d.items() if k != "version"}, "something else"),
        (lambda d: d | {"moments": 3}, "not a whole plan"),
        (lambda d: d | {"tempo": None}, "neither a tempo nor a piece of music"),
        (lambda d: d | {"hands": ["foot"]}, "unknown hands"),
        (lambda d: [], "something else"),
        (lambda d: d | {"speed": 0}, "speed: expected 0.05 to 20, found 0"),
        (lambda d: d | {"pieces": [d["pieces"][0] | {"speed": 0}]}, "speed: expected 0.05 to 20, found 0"),
        (lambda d: d | {"pieces": 2 * d["pieces"]}, "pieces: expected one, found 2"),
        (lambda d: d | {"duration": math.inf}, "duration: expected 0 to 1e.06, found inf"),
        (lambda d: d | {"duration": 10**400}, "not a whole plan"),
        (lambda d: d | {"cycle_counts": 0}, "cycle_counts: expected"),
        (lambda d: d | {"lead_in_counts": 10**12}, "lead_in_counts: expected"),
        (lambda d: d | {"moments": [d["moments"][0] | {"cycle": -1}]}, "number of a cycle: expected 0 to"),
        (
            lambda d: d | {"moments": [each | {"time": 5} for each in d["moments"]]},
            "one after the other, found all at 5 s",
        ),
        (lambda d: d | {"eights": [d["eights"][0] | {"length": 0}]}, "length of an eight: expected 1 to"),
        (lambda d: d | {"eights": 2 * d["eights"]}, "expected eights one after the other"),
        (lambda d: d | {"cues": [{"time": 1e300, "sound": "count"}]}, "time: expected"),
        (lambda d: d | {"cue_way": "some"}, "a way of cueing"),
        (lambda d: d | {"title": "a \ud800"}, "half of a letter"),
        (lambda d: d | {"pattern": [["a", 1]]}, "pattern: expected names with values, found"),
        (lambda d: d | {"version": "9" * 5000}, "expected a plan of version 1"),
        (lambda d: d | {"speed": "fast"}, "plan: speed: expected a number, found 'fast'"),
        (lambda d: d | {"speed": True}, "plan: speed: expected a number, found True"),
        (lambda d: d | {"title": None}, "the entry 'title' is missing"),
        (lambda d: d | {"moments": {}}, "moments: expected a list, found {}"),
        (lambda d: d | {"hands": "right"}, "hands: expected a list, found 'right'"),
        (lambda d: d | {"counts": {"time": [0, "1"], "count": [0, 1]}}, "counts, time 2: expected a number, found '1'"),
        (
            lambda d: d | {"moments": [d["moments"][0], d["moments"][1] | {"time": "late"}]},
            "moments 2, time: expected a number, found 'late'",
        ),
        (
            lambda d: d | {"moments": [{k: v for k, v in d["moments"][0].items() if k != "hand"}]},
            "moments 1: the entry 'hand' is missing",
        ),
    ],
)
def test_a_plan_that_is_none_gets_one_sentence(change, words):
    data = plan_to_dict(lay_out(make_drill(), CountMap.steady(100), tempo_bpm=100))
    with refused(words):
        plan_from_dict(change(data), where="plan.json")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('{"version": ' + "9" * 5000 + "}", "a number in it has too many digits; write it again"),
        ("[" * 100_000, "it is nested too deeply"),
        ('{"version": }', "expected a plan in JSON, but "),
    ],
)
def test_a_file_that_is_no_json_is_said_without_a_programmers_words(text, words, tmp_path):
    path = tmp_path / "plan.json"
    path.write_text(text)
    with refused(words) as caught:
        read_plan(path)
    assert "sys." not in say_error(caught.value)

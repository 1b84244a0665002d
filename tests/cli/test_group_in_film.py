"""``tempo-coach group`` on one film of all: who is late and where, from nothing but a place on each."""

import json
import re

import numpy as np
import pytest

from tempo_coach.cli import main
from tempo_coach.coach.filmed_groups import one_a_cycle
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.pattern.plan.every_count import lay_every_count
from tests.generators import films, movement

SIZE = (360, 120)
TICKS = movement.ticks(np.random.default_rng(5), 14, 0.6, start=-0.2)
LATE = np.zeros((3, TICKS.size))
LATE[1] += 0.08  # Bea, always
LATE[2, 8:11] += 0.18  # Cyl, three cycles
AT = {"Ada": (68, 60), "Bea": (180, 60), "Cyl": (292, 60)}  # invented


@pytest.fixture(scope="module")
def film(tmp_path_factory):
    markers = {
        name: films.Marker((60, 60, 65), films.turning(movement.Phase(TICKS + late), at, 33))
        for (name, at), late in zip(AT.items(), LATE, strict=True)
    }
    scene = films.Scene(markers, films.steady_times(8, 30), SIZE)
    path = tmp_path_factory.mktemp("film") / "three.mp4"
    return films.write_film(path, films.pictures(scene), size=SIZE, crf=20)


@pytest.fixture(scope="module")
def shown(film):
    return [f"{name}={film}@{x},{y - 20}" for name, (x, y) in AT.items()]


def test_who_is_late_and_where_it_fell_apart(shown, capsys):
    assert main(["group", *shown, "--json"]) == 0
    caught = capsys.readouterr()
    card = json.loads(caught.out)
    offsets = {member["member"]: member["offset_ms"] for member in card["members"]}
    assert offsets["Bea"] - offsets["Ada"] == pytest.approx(80, abs=20)
    assert {member["member"] for member in card["members"] if member["bias_ms"] is not None} == set()
    # Ada to Cyl, in the ninth to the eleventh cycle
    assert {one["eight"] for one in card["apart"]} == {2}
    assert max(one["range_ms"] for one in card["apart"]) == pytest.approx(180, abs=40)
    assert "each cycle (0.60 s) is called a count" in caught.err


@pytest.fixture(scope="module")
def crossed(tmp_path_factory):
    """Two who change places from 5.2 to 6.2 s; Bea is late by 40 ms, wherever she stands."""
    ticks, size, start = movement.ticks(np.random.default_rng(6), 22, 0.6, start=-0.2), (240, 100), 5.2
    homes = {"Ada": (60, 50), "Bea": (180, 50)}  # invented

    def walking(path, far):
        return lambda times: path(times) + np.outer(np.clip(np.asarray(times) - start, 0, 1), (far, 0))

    markers = {}
    for (name, at), far, late in zip(homes.items(), (120, -120), (0.0, 0.04), strict=True):
        arm = films.turning(movement.Phase(ticks + late), at, 26)
        body = walking(lambda times, at=at: np.tile(at, (len(times), 1)), far)
        markers |= {f"{name}'s": films.Marker((215, 215, 210), body, radius=15.0)}
        markers |= {name: films.Marker((60, 60, 65), walking(arm, far), radius=7.0)}
    scene = films.Scene(markers, films.steady_times(12.5, 20), size)
    path = tmp_path_factory.mktemp("crossed") / "two.mp4"
    films.write_film(path, films.pictures(scene), size=size, crf=20, nominal_hz=20)
    return [f"{name}={path}@{x},{y - 20}" for name, (x, y) in homes.items()]


def test_who_changes_places_is_judged_until_then_and_asked_by_a_picture(crossed, tmp_path, capsys):
    page = tmp_path / "who.html"
    assert main(["group", *crossed, "--json", "--crossing-page", str(page)]) == 0
    caught = capsys.readouterr()
    times = [float(found) for found in re.findall(r"from ([\d.]+) s of the film on it is not known", caught.err)]
    assert len(times) == 2
    assert 4.2 < max(times) <= 5.5
    assert max(one["n"] for one in json.loads(caught.out)["members"]) <= 8
    assert "Ada=1,Bea=2" in caught.err
    shown = page.read_text(encoding="utf-8")
    assert shown.count("data:image/jpeg") == 1
    assert [float(x) for x in re.findall(r'<circle cx="([\d.]+)"', shown)] == pytest.approx([60, 180], abs=12)


@pytest.mark.parametrize(("said", "late"), [("Ada=2,Bea=1", 40), ("Ada=1,Bea=2", -40)])
def test_what_is_answered_judges_the_rest_and_is_kept(crossed, capsys, said, late):
    for asked in (["--after-crossing", said], []):  # the second time it is known
        assert main(["group", *crossed, "--json", *asked]) == 0
        caught = capsys.readouterr()
        eights = {(one["member"], one["eight"]): one for one in json.loads(caught.out)["detail"]["by_eight"]}
        for eight, lag in ((1, 40), (2, late)):
            assert eights["Bea", eight]["offset_ms"] == pytest.approx(lag, abs=12)  # from the other one
        assert ("taken from last time" in caught.err) == (not asked)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (["Ada=3"], "a number from 1 to 2"),
        (["Ada=1,Bea=1"], "two are said to be number 1"),
        (["Ada"], "NAME=NUMBER"),
        (["Zed=1"], "expected a member"),
        (["Ada=2,Bea=1", "Ada=1,Bea=2"], "leave the last one out"),
    ],
)
def test_an_answer_that_cannot_be_meant_is_refused(crossed, capsys, said, words):
    assert main(["group", *crossed, *(part for each in said for part in ("--after-crossing", each))]) == 1
    assert words in " ".join(capsys.readouterr().err.split())


def test_of_a_plan_of_every_count_a_cycle_answers_as_many_as_it_lasts():
    plan = lay_every_count(CountMap.steady(200), end=8.0, tempo_bpm=200)
    own = one_a_cycle(plan, 0.61)
    assert np.diff(own.moments.time) == pytest.approx(0.6)
    assert own.moments.time[-1] > 7.0


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda shown: [*shown[:2], shown[2].replace("Cyl", "Ada")], "each member once"),
        (lambda shown: [shown[0], shown[1].rpartition("@")[0]], "this one is not"),
        (lambda shown: [shown[0], shown[1].rpartition(",")[0]], "a place in the first picture"),
        (lambda shown: [shown[0], shown[1].partition("=")[2]], "who is there"),
        (lambda shown: [shown[0], shown[1].rpartition("@")[0] + "@4000,80"], "picture of 360 × 120"),
        (lambda shown: [shown[0], shown[1].rpartition("@")[0] + "@124,60", shown[2]], "nothing moves at 124,60"),
        (lambda shown: [shown[0], shown[1], "Dora=" + shown[0].partition("=")[2]], "two are shown at one place"),
        (lambda shown: [*shown, "--hall", "3"], "--hall"),
        (lambda shown: shown[:1], "2 to 30 members"),
        (lambda shown: [*shown, "--canon", "Zed=2"], "expected a member"),
    ],
)
def test_what_cannot_be_meant_is_refused(shown, capsys, change, words):
    assert main(["group", *change(shown)]) in (1, 2)
    assert words in " ".join(capsys.readouterr().err.split())

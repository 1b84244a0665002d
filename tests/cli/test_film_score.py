"""A filmed take against its plan: a phone in a hall, its own clock, a marker on each club, exact truth."""

import contextlib
import json
import re

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.cli import main
from tempo_coach.music.files.sound import Sound, resample
from tempo_coach.music.files.sound_file import write_sound
from tempo_coach.music.files.stretch import stretch
from tempo_coach.observe.film.frames import look_at_film
from tempo_coach.observe.member_rows import read_members
from tempo_coach.observe.trace.tables import read_trace
from tempo_coach.pattern.plan.plan_file import plan_to_dict, read_plan
from tests.generators import films, hall, movement

SIZE = (224, 136)
BEFORE, PPM, LATE = 2.6, 70.0, 0.030
SPREAD = 0.006
HIDDEN = (8.0, 8.6)


@pytest.fixture(scope="module")
def filmed(tmp_path_factory, music):
    """Folder of a plan, the cues played, and a film of a take that is 30 ms late all through."""
    folder = tmp_path_factory.mktemp("filmed")
    plan = coach.lay(coach.Request("clubs_mills", music=str(music), from_eight=3, eights=2))
    (folder / "plan.json").write_text(json.dumps(plan_to_dict(plan)))
    played = coach.cue_sound(plan)
    wave = resample(Sound(played.mono()[:, None], played.rate_hz), hall.RATE_HZ).samples[:, 0]
    heard = hall.through_hall(wave, 3, before=BEFORE, ppm=PPM)
    rng = np.random.default_rng(0)
    markers = {}
    for k, hand in enumerate(plan.hands):
        done = plan.moments.time[plan.moments.of_hand(hand)] + LATE
        done = BEFORE + (done + SPREAD * rng.standard_normal(done.size)) * (1 + PPM * 1e-6)
        path = films.turning(movement.Phase(done), (62 + 100 * k, 66), 38, 1 - 2 * k)
        markers[hand] = films.Marker((films.RED, films.YELLOW)[k], path, 5.5)
    times = films.steady_times(BEFORE + plan.duration + 1, 30, jitter=0.1)
    scene = films.Scene(markers, times, SIZE)
    films.write_film(folder / "take.mp4", films.pictures(scene), size=SIZE, crf=20, sound=heard, rate_hz=hall.RATE_HZ)
    (folder / "hands.json").write_text(
        json.dumps([f"{h}={c}" for h, c in zip(plan.hands, ("red", "yellow"), strict=True)])
    )
    return folder


def words(folder, *more):
    hands = json.loads((folder / "hands.json").read_text())
    named = [word for hand in hands for word in ("--marker", hand)]
    return ["score", "--film", str(folder / "take.mp4"), "--plan", str(folder / "plan.json"), *named, *more, "--json"]


def test_a_film_is_scored_on_the_clock_of_its_music(filmed, capsys):
    assert main(words(filmed)) == 0
    caught = capsys.readouterr()
    card = json.loads(caught.out)
    assert card["observed_by"] == "film"
    assert card["bias_ms"] == pytest.approx(1000 * LATE, abs=4)
    assert card["spread_ms"] == pytest.approx(1000 * SPREAD, abs=3)
    assert card["missed"] == card["extra"] == 0
    assert abs(card["lags"][0]["error_deg"]) < 3
    assert "some tens of ms" in caught.err  # what a film adds of its own is said


def test_what_was_hidden_is_not_missed(filmed, capsys):
    assert main(words(filmed, "--without", f"{HIDDEN[0]}-{HIDDEN[1]}")) == 0
    caught = capsys.readouterr()
    card = json.loads(caught.out)
    assert card["missed"] == card["extra"] == 0
    assert card["spread_ms"] == pytest.approx(1000 * SPREAD, abs=3)
    assert "moments were hidden" in caught.err


def test_a_clap_by_hand_places_a_film_too(filmed, capsys):
    assert main(words(filmed, "--clap", f"{BEFORE + 1}", "1")) == 0
    assert json.loads(capsys.readouterr().out)["bias_ms"] == pytest.approx(1000 * LATE, abs=4)


def test_without_a_marker_the_movement_in_parts_of_the_picture_is_scored(filmed, capsys):
    parts = ["--part", f"right=0,0,112,{SIZE[1]}", "--part", f"left=112,0,112,{SIZE[1]}"]
    asked = ["score", "--film", str(filmed / "take.mp4"), "--plan", str(filmed / "plan.json"), *parts, "--json"]
    assert main(asked) == 0
    caught = capsys.readouterr()
    card = json.loads(caught.out)
    assert card["bias_ms"] == pytest.approx(1000 * LATE, abs=15)  # places are not known well without a marker
    assert card["spread_ms"] < 15
    assert abs(card["lags"][0]["error_deg"]) < 5
    assert card["missed"] == card["extra"] == 0
    assert "no marker was followed" in caught.err


def test_without_names_a_film_does_not_say_which_hand_is_which(filmed, capsys):
    plan = str(filmed / "plan.json")
    assert main(["score", "--film", str(filmed / "take.mp4"), "--plan", plan, "--clap", f"{BEFORE + 1}", "1"]) == 0
    assert "for right and" in (said := capsys.readouterr().err) and "is a guess" in said


def test_the_table_can_be_written_on_the_take_clock(filmed, tmp_path, capsys):
    out = tmp_path / "take.csv"
    hands = words(filmed)[5:-1]
    asked = ["film", str(filmed / "take.mp4"), "--plan", str(filmed / "plan.json"), *hands, "--out", str(out)]
    assert main(asked) == 0
    capsys.readouterr()
    assert main(["score", str(out), "--plan", str(filmed / "plan.json"), "--clap", "0", "0", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["bias_ms"] == pytest.approx(1000 * LATE, abs=4)


def test_slowed_practice_music_puts_the_table_in_seconds_of_the_recording(tmp_path, capsys):
    speed, first = 0.8, 6.0
    music = Sound(hall.tune(21, 24)[:, None], hall.RATE_HZ)
    write_sound(tmp_path / "music.wav", music)
    played = stretch(music, speed).samples[round(first * hall.RATE_HZ) :, 0]
    times = films.steady_times(8, 30)
    club = films.Marker(films.RED, films.turning(lambda t: t / 0.8, (60, 45), 30), 4.0)
    film = films.write_film(
        tmp_path / "slow.mp4",
        films.pictures(films.Scene({"club": club}, times, (128, 96))),
        size=(128, 96),
        sound=hall.through_hall(played, 5, before=1.0, ppm=PPM),
        rate_hz=hall.RATE_HZ,
    )
    out = tmp_path / "club.csv"
    asked = ["film", str(film), "--marker", "club=red", "--music", str(tmp_path / "music.wav"), "--out", str(out)]
    assert main([*asked, "--speed", f"{speed}"]) == 0
    assert float(re.search(r"([-+]\d+) ppm", capsys.readouterr().err)[1]) == pytest.approx(-PPM, abs=40)
    on_music = speed * (first + (times - 1.0) / (1 + PPM * 1e-6))
    assert read_trace(out).time == pytest.approx(on_music, abs=0.002)
    assert main(asked[:-2]) == 1  # not at this speed
    assert "is not found in the sound" in capsys.readouterr().err
    for more, said in (
        (["--speed", "9"], "0.3 to 3"),
        (["--speed", "0.8", "--plan", "x"], "does not go together with"),
    ):
        with contextlib.suppress(SystemExit):
            assert main([*asked[:-2], *more]) == 1
        assert said in capsys.readouterr().err
    assert main(["film", str(film), "--speed", "0.8"]) == 1
    assert "give --music" in capsys.readouterr().err


def test_marks_made_by_hand_are_scored_on_the_same_clock(filmed, tmp_path, capsys):
    rows = [
        f"{round((BEFORE + (moment['time'] + LATE) * (1 + PPM * 1e-6)) * 30)},{moment['hand']}"
        for moment in moments_of(filmed)
    ]
    marks = tmp_path / "marks.csv"
    marks.write_text("\n".join(["frame,hand", *rows]))
    asked = ["score", "--plan", str(filmed / "plan.json"), "--marks", str(marks), "--json"]
    for more in (["--film", str(filmed / "take.mp4")], ["--fps", "30", "--clap", f"{BEFORE}", "0"]):
        assert main([*asked, *more]) == 0
        card = json.loads(capsys.readouterr().out)
        assert card["observed_by"] == "film"
        assert card["bias_ms"] == pytest.approx(1000 * LATE, abs=6)
        # A uniform step of 1/30 s has an SD of 33.3 ms / √12 = 9.6 ms, which is what marking pictures adds.
        assert card["noise_floor_ms"] == pytest.approx(9.6, abs=0.1)
    assert main([*asked, "--fps", "30"]) == 1
    assert "--clap" in capsys.readouterr().err


def moments_of(folder):
    moments = read_plan(folder / "plan.json").moments
    return [{"time": float(t), "hand": h} for t, h in zip(moments.time, moments.hand, strict=True)]


def test_markers_of_a_group_become_onsets_of_its_members(filmed, tmp_path, capsys):
    """The second club stands for Bea, who does with her right hand what Ada does, a count later."""
    out = tmp_path / "group.csv"
    plan = read_plan(filmed / "plan.json")
    asked = ["film", str(filmed / "take.mp4"), "--plan", str(filmed / "plan.json"), "--onsets", str(out)]
    assert main([*asked, "--marker", "Ada/right=red", "--marker", "Bea/right=yellow", "--without", "6-7"]) == 0
    capsys.readouterr()
    members = read_members(out)
    assert set(members) == {"Ada", "Bea"}
    for member, hand in zip(("Ada", "Bea"), plan.hands, strict=True):
        asked_at = np.array([m["time"] for m in moments_of(filmed) if m["hand"] == hand])
        onsets = members[member].onsets(plan.hands)
        assert set(onsets.hand) == {"right"}
        off = onsets.time[np.abs(onsets.time[:, None] - asked_at).argmin(axis=0)] - asked_at
        assert np.median(off) == pytest.approx(LATE, abs=0.007)
        on_film = BEFORE + onsets.time * (1 + PPM * 1e-6)
        assert not ((on_film > 6.02) & (on_film < 6.98)).any()
    assert main(["group", str(out), "--plan", str(filmed / "plan.json"), "--canon", "Bea=1", "--json"]) == 0
    card = json.loads(capsys.readouterr().out)
    for member in card["members"]:
        assert member["n"] >= 7
        assert member["bias_ms"] == pytest.approx(1000 * LATE, abs=7)
    assert main([*asked, "--marker", "Ada=red", "--force"]) == 1
    assert "write Ada/right=COLOUR" in capsys.readouterr().err


def test_a_film_with_other_music_or_of_another_time_is_refused(filmed, tmp_path, capsys):
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=96, cycles=8))
    other = tmp_path / "other.json"
    other.write_text(json.dumps(plan_to_dict(plan)))
    asked = words(filmed)
    asked[4] = str(other)
    assert main(asked) == 1
    assert "is not found in the sound" in capsys.readouterr().err
    assert main(words(filmed, "--clap", "500", "1")) == 1
    assert "the film shows" in capsys.readouterr().err
    assert main([*words(filmed)[:1], "table.csv", *words(filmed)[1:]]) == 1
    assert "got both" in capsys.readouterr().err


def test_a_clip_has_the_cycle_of_the_card_by_the_music_or_by_a_clap(filmed, tmp_path, capsys):
    plan = read_plan(filmed / "plan.json")
    asked = ["film", str(filmed / "take.mp4"), "--plan", str(filmed / "plan.json"), "--marker", "left=red"]
    told = {}
    for name, more in (("heard", []), ("clapped", ["--clap", f"{BEFORE}", "0"])):
        clip = tmp_path / f"{name}.mp4"
        assert main([*asked, *more, "--clip", str(clip), "--cycle", "3"]) == 0
        told[name] = look_at_film(clip).duration
    assert told["heard"] == pytest.approx(told["clapped"], abs=0.01)
    capsys.readouterr()
    assert main([*asked, "--clip", str(tmp_path / "a.mp4"), "--cycle", "99"]) == 1
    assert f"expected a whole cycle from 1 to {plan.cycles}, got 99" in capsys.readouterr().err

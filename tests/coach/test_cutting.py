"""A routine's music cut, made again, and cut anew: what is laid moves along."""

from dataclasses import replace

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.coach import CutWishes
from tempo_coach.errors import CoachError
from tempo_coach.music.counts.count_map import Position
from tempo_coach.music.files.programme_loudness import find_true_peak, measure_loudness
from tempo_coach.music.files.sound_file import read_sound, write_sound
from tempo_coach.pattern.routine.routine import Laid, Remark, RoutineMoment, Steps
from tempo_coach.pattern.routine.routine_file import read_routine
from tempo_coach.reasons import Why
from tests.generators.workplace import invented_music


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The whole music, and a routine on it with drills on eights 2 to 3 and 9 to 10."""
    made = tmp_path_factory.mktemp("cut")
    write_sound(made / "whole.flac", invented_music().sound)
    opened = coach.begin_routine(made / "whole.toml", made / "whole.flac")
    routine = replace(
        opened.routine,
        last=Position(10, 8.0),
        laid=(Laid("ball_bounces", Position(2, 1.0), 2), Laid("ball_bounces", Position(9, 1.0), 2)),
        moments=(RoutineMoment("toss", Position(9, 3.5)), RoutineMoment("catch", Position(6, 1.0))),
        steps=(Steps(Position(3, 1.0), Position(4, 1.0)),),
        remarks=(Remark(10, "chin up"),),
    )
    coach.save_routine(replace(opened, routine=routine))
    return made


@pytest.fixture(scope="module")
def made(folder):
    return coach.cut_music(folder / "whole.toml", CutWishes(("1-3", "9-10"), silence=1.0, tone=True), beside=folder)


def test_what_is_laid_lies_on_the_same_sound(made):
    routine = made.routine
    assert [(each.at.eight, each.eights) for each in routine.laid] == [(2, 2), (4, 2)]
    assert [(each.what, each.at) for each in routine.moments] == [("toss", Position(4, 3.5))]
    assert [each.eight for each in routine.remarks] == [5] and routine.last == Position(5, 8.0)
    assert routine.steps == (Steps(Position(3, 1.0), Position(4, 1.0)),)
    assert [each.args[:2] for each in made.said if each.code is Why.CUT_OUT] == [("moment", "catch")]


def test_counts_are_within_a_millisecond_of_where_they_were(made):
    heard = [
        place
        for each in made.old.beats
        for place in made.cut.places(float(each), slack=0.045)
        if place > made.cut.begin
    ]
    for time in made.counts.beats[1:-1]:
        assert np.abs(np.array(heard) - time).min() < 0.001


def test_loudness_is_what_was_asked_as_far_as_peaks_allow(made):
    bare = invented_music().sound
    assert find_true_peak(made.sound) <= -0.95
    wished = CutWishes(("1-3",), ending="plain", loudness_lufs=-25.0)
    quiet = coach.cut_music(_whole(made), wishes=wished, beside=_whole(made).parent)
    assert measure_loudness(quiet.sound) == pytest.approx(-25.0, abs=0.2)
    assert bare.rate_hz == quiet.sound.rate_hz


def _whole(made):
    return made.source.with_suffix(".toml")


def test_it_is_made_again_sample_for_sample_and_opens_at_once(folder, made, monkeypatch):
    write_sound(folder / "short.wav", made.sound)
    coach.save_cut(made, folder / "short.toml", folder / "short.wav", kind="alone", force=False)
    again, routine = coach.make_again(folder / "short.toml")
    assert np.array_equal(again.samples, made.sound.samples)
    assert routine == read_routine(folder / "short.toml") and routine.cut == made.routine.cut
    monkeypatch.setattr("tempo_coach.coach.routines.hear", None)  # nothing has to be found
    opened = coach.open_routine(folder / "short.toml")
    assert opened.said == () and opened.counts.beats == pytest.approx(made.counts.beats, abs=1e-6)
    assert opened.counts.eights == made.counts.eights


def test_it_is_cut_anew_from_the_whole(folder, made):
    write_sound(folder / "anew.wav", made.sound)
    coach.save_cut(made, folder / "anew.toml", folder / "anew.wav", kind="alone", force=False)
    anew = coach.cut_music(folder / "anew.toml", CutWishes(("2-4", "9-12")), beside=folder)
    assert [(each.at.eight, each.eights) for each in anew.routine.laid] == [(1, 2), (4, 2)]
    assert anew.routine.cut.counts_of == "whole.toml"


def test_the_whole_that_has_changed_is_told_by_its_content(folder, made, tmp_path):
    write_sound(tmp_path / "whole.flac", invented_music().sound)
    write_sound(tmp_path / "cut.wav", made.sound)
    moved = replace(made, routine=replace(made.routine, cut=replace(made.routine.cut, path="whole.flac")))
    coach.save_cut(moved, tmp_path / "cut.toml", tmp_path / "cut.wav", kind="alone", force=False)
    sound = read_sound(tmp_path / "whole.flac")
    write_sound(tmp_path / "whole.flac", replace(sound, samples=sound.samples[:-1]), overwrite=True)
    with pytest.raises(CoachError, match=r"cut\.whole_changed"):
        coach.make_again(tmp_path / "cut.toml")
    (tmp_path / "whole.flac").unlink()
    with pytest.raises(CoachError, match=r"music\.gone"):
        coach.make_again(tmp_path / "cut.toml")


def test_where_nothing_is_kept_that_is_said_before_the_music_is_heard(folder, monkeypatch):
    monkeypatch.setattr("tempo_coach.coach.cutting.open_routine", None)
    with pytest.raises(CoachError, match=r"cut\.nothing_kept"):
        coach.cut_music(folder / "whole.toml", CutWishes(), beside=folder)


def test_what_cannot_be_cut_is_refused(folder):
    for wishes, code in (
        (CutWishes(), "cut.nothing_kept"),
        (CutWishes(("1-3",), ending="fade", fade=60.0), "cut.fade_long"),
        (CutWishes(("90-91",)), "cut.beyond_music"),
    ):
        with pytest.raises(CoachError, match=code):
            coach.cut_music(folder / "whole.toml", wishes, beside=folder)

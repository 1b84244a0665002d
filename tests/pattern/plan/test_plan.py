"""The plan as a value, made by hand: what it refuses, and what it reckons."""

from dataclasses import FrozenInstanceError, replace

import numpy as np
import pytest

from tempo_coach.music.counts.count_map import Position
from tempo_coach.pattern.plan.plan import CueSounds, Eight, Moments, Music, MusicSegment, Plan

MOMENTS = Moments(
    time=[4.5, 4.75, 6.5, 6.75],
    cycle=[0, 0, 1, 1],
    hand=["right", "left", "right", "left"],
    label=["low 1", "low 2", "low 1", "low 2"],
    count=[1.0, 1.5, 5.0, 5.5],
    asked_lag_deg=[np.nan, 45.0, np.nan, 45.0],
    cue=[1, 0, 1, 0],
    kind=["circle"] * 4,
)


def plan(**changed):
    """A passage of a bridge of 4 counts and an eight, two counts a second, behind a lead-in of 8 counts."""
    values = {
        "drill": "made_up",
        "title": "Made up",
        "apparatus": "clubs",
        "hands": ("right", "left"),
        "cycle_counts": 4.0,
        "tempo_bpm": 120.0,
        "music": None,
        "speed": 1.0,
        "lead_in_counts": 8,
        "cue_way": "all",
        "allowance": 0.05,
        "eights": (Eight(3, 0.0, 4), Eight(4, 4.0, 8)),
        "pieces": (MusicSegment(0.0, -1.0, 1.0),),
        "knot_times": [0.0, 10.0],
        "knot_counts": [-8.0, 12.0],
        "duration": 10.0,
        "moments": MOMENTS,
        "cues": CueSounds([4.0, 4.5], ["tick", "tock"]),
    }
    return Plan(**{**values, **changed})


def test_columns_are_copied_kept_and_cannot_be_written():
    times = np.array([1.0, 2.0])
    cues = np.array([True, False])
    moments = replace(
        MOMENTS,
        **{name: getattr(MOMENTS, name)[:2] for name in ("cycle", "hand", "label", "count", "asked_lag_deg", "kind")},
        time=times,
        cue=cues,
    )
    times[0], cues[0] = 9.0, False
    assert moments.time.tolist() == [1, 2]
    assert moments.cue.tolist() == [True, False]
    assert len(moments) == 2
    for name in ("time", "cycle", "count", "asked_lag_deg", "cue"):
        with pytest.raises(ValueError, match="read-only"):
            getattr(moments, name)[0] = 0
    assert moments.cycle.dtype.kind == "i"
    assert moments.cue.dtype == np.bool_
    assert (moments.hand, moments.label, moments.kind) == (("right", "left"), ("low 1", "low 2"), ("circle", "circle"))
    with pytest.raises(FrozenInstanceError):
        moments.time = times


@pytest.mark.parametrize("name", ["cycle", "hand", "label", "count", "asked_lag_deg", "cue", "kind"])
def test_columns_of_another_length_are_refused(name):
    with pytest.raises(ValueError, match=r"^moments: expected columns of 4, got \[.*3.*\]$"):
        replace(MOMENTS, **{name: getattr(MOMENTS, name)[:3]})


@pytest.mark.parametrize(
    ("name", "values", "said"),
    [
        ("time", [4.5, 4.75, 6.5, 6.0], r"^moments\b"),
        ("time", [4.5, 4.75, np.nan, 6.75], r"^moments\b"),
        ("cycle", [0, 0.5, 1, 1], r"^cycles\b"),
        ("count", [1.0, np.nan, 5.0, 5.5], r"^counts\b"),
        ("asked_lag_deg", [np.inf, 45.0, 0.0, 45.0], r"^asked lags\b"),
    ],
)
def test_columns_that_hold_no_such_numbers_are_refused(name, values, said):
    with pytest.raises(ValueError, match=said):
        replace(MOMENTS, **{name: values})


def test_the_moments_of_a_hand():
    assert MOMENTS.of_hand("left").tolist() == [1, 3]
    assert MOMENTS.of_hand("right").tolist() == [0, 2]
    assert MOMENTS.of_hand("third").tolist() == []


def test_a_cue_has_a_sound_each_and_comes_in_order():
    cues = CueSounds([1, 2], ["tick", "say 5"])
    assert cues.time.tolist() == [1, 2]
    assert cues.sound == ("tick", "say 5")
    with pytest.raises(ValueError, match=r"^cues: expected 2 sounds, got 1$"):
        CueSounds([1, 2], ["tick"])
    with pytest.raises(ValueError, match=r"^cues\b"):
        CueSounds([2, 1], ["tick", "tick"])
    with pytest.raises(FrozenInstanceError):
        cues.sound = ()


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"knot_times": [0.0, 5.0, 10.0]}, r"^plan: expected two or more counts with a time each$"),
        ({"knot_times": [0.0], "knot_counts": [0.0]}, r"^plan: expected two or more counts with a time each$"),
        ({"knot_times": [1.0, 0.0]}, r"^times of the counts\b"),
        ({"knot_counts": [1.0, 0.0]}, r"^counts\b"),
        ({"pieces": ()}, r"^plan: expected at least one eight, one piece and one hand$"),
        ({"hands": ()}, r"^plan: expected at least one eight, one piece and one hand$"),
        ({"eights": (), "cycle_starts": [0.0, 4.0]}, r"^plan: expected at least one eight, one piece and one hand$"),
        ({"hands": ("right", "third")}, r"^plan: moments of unknown hands \['left'\]$"),
        ({"cycle_starts": [0.0]}, r"^plan: expected where 2 cycles begin, got 1$"),
        ({"cycle_starts": [4.0, 0.0]}, r"^starts of the cycles\b"),
    ],
)
def test_plans_that_hang_together_nowhere_are_refused(changed, said):
    with pytest.raises(ValueError, match=said):
        plan(**changed)


def test_two_knots_a_single_hand_and_no_moment_are_enough():
    none = Moments([], [], [], [], [], [], [], [])
    empty = plan(moments=none, hands=("right",))
    assert empty.cycles == 0
    assert len(empty.cycle_starts) == 0
    assert len(none) == 0
    assert not none.of_hand("right").size


def test_what_is_optional_is_empty_and_not_shared():
    one, other = plan(), plan()
    assert one.pattern == {}
    assert one.pattern is not other.pattern
    assert one != other  # a value by identity: it holds arrays
    with pytest.raises(FrozenInstanceError):
        one.speed = 0.5


def test_where_the_cycles_begin():
    # the first moment of each cycle lies as far behind the one before as the cycles do
    assert plan().cycle_starts.tolist() == [0, 4]
    assert plan(cycle_starts=[0.0, 4.5]).cycle_starts.tolist() == [0, 4.5]
    late = plan(eights=(Eight(3, 2.0, 4), Eight(4, 6.0, 8)))
    assert late.cycle_starts.tolist() == [2, 6]
    with pytest.raises(ValueError, match="read-only"):
        late.cycle_starts[0] = 1
    # the moment that counts is the earliest in counts, whichever comes first in the columns
    crossed = replace(MOMENTS, count=[1.5, 1.0, 5.5, 5.25])
    assert plan(moments=crossed).cycle_starts.tolist() == [0, 4.25]


def test_the_passage():
    made = plan()
    assert made.first_count == 0
    assert made.start == 0.0  # between two knots, the one that lies before
    assert made.cycles == 2
    exact = plan(knot_times=[0.0, 4.0, 6.0, 10.0], knot_counts=[-8.0, 0.0, 0.0, 12.0])
    assert exact.start == 6.0  # behind a pause in which the count stands still


def test_counts_along_the_take_clock():
    made = plan(knot_times=[0.0, 4.0, 6.0, 10.0], knot_counts=[-8.0, 0.0, 0.0, 8.0])
    assert made.counts_at([0, 2, 4, 5, 6, 8]).tolist() == [-8, -4, 0, 0, 0, 4]
    assert made.counts_at([-1, 11]).tolist() == [-8, 8]  # nothing is known beyond
    assert float(made.counts_at(2)) == -4


@pytest.mark.parametrize(
    ("count", "eight", "said"),
    [
        (0, 3, 1),
        (3.5, 3, 4.5),
        (4, 4, 1),
        (4 - 1e-10, 4, 1),  # what is reckoned falls short by rounding
        (11.5, 4, 8.5),
        (12, 5, 1),
        (20.5, 6, 1.5),
        (-1, 2, 8),
        (-8, 2, 1),
    ],
)
def test_eights_and_counts_as_they_are_said(count, eight, said):
    place = plan().place(count)
    assert isinstance(place, Position)
    assert place.eight == eight
    assert place.count == pytest.approx(said)


def test_music_and_pieces_are_what_they_say():
    assert Music("a.wav", "00")._fields == ("path", "content_hash")
    made = plan(music=Music("a.wav", "00"), tempo_bpm=None)
    assert made.music.content_hash == "00"
    assert made.pieces[0].music_start == -1.0

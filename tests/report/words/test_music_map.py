"""The map of a piece of music in words, and what is laid beside its accents."""

from tempo_coach.music.counts.count_map import CountMap, Position
from tempo_coach.music.counts.music_map import Accent, MapRow
from tempo_coach.pattern.routine.routine import RoutineMoment
from tempo_coach.report.words.music_map import map_values, say_map, tell_eight, tell_missed

COUNTS = CountMap(range(24), ((0, 8), (8, 8), (16, 8)))
ROWS = (
    MapRow(1, -12.0, 1.0, "A", True, (), ()),
    MapRow(2, 0.0, 2.0, "B", True, ("louder", "denser"), (Accent(12.0, 5.0), Accent(15.0, 4.5))),
    MapRow(3, -0.2, 2.0, "B", False, (), ()),
)


def test_an_eight_says_what_begins_how_it_differs_and_its_accents():
    assert tell_eight(ROWS[1], COUNTS) == ["section B begins: louder, denser", "accents on 5, 8"]
    assert tell_eight(ROWS[2], COUNTS) == []
    assert len(say_map(ROWS, COUNTS)) == 4
    assert map_values(ROWS, COUNTS)[1]["accents"] == [{"count": 5.0, "strength": 5.0}, {"count": 8.0, "strength": 4.5}]


def test_what_is_caught_beside_an_accent_is_told_and_on_it_is_not():
    moments = (
        RoutineMoment("catch", Position(2, 3.0)),
        RoutineMoment("toss", Position(2, 5.0)),
        RoutineMoment("exchange", Position(3, 1.0)),
        RoutineMoment("catch", Position(1, 1.0)),
    )
    assert tell_missed(moments, ROWS, COUNTS) == [
        (2, "caught on count 3, the accent is on 5"),
        (3, "exchanged on count 1, the accent is on 8 of eight 2"),
    ]

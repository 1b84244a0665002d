"""An invented routine and its count sheet."""

import numpy as np

from tempo_coach import coach
from tempo_coach.music.counts.count_map import CountMap, Position
from tempo_coach.pattern.routine.routine import Laid, MusicFile, Routine, RoutineMoment, Steps
from tempo_coach.report.words.sheet import make_sheet

# three eights at 120, a bridge of four, a pause of two seconds, two eights at 100
BEATS = np.concatenate([0.5 * np.arange(28), 16.0 + 0.6 * np.arange(16)])
COUNTS = CountMap(BEATS, ((0, 8), (8, 8), (16, 8), (24, 4), (28, 8), (36, 8)), ((14.0, 16.0),))
DURATION = 26.0


def load(name, mirrored):
    return coach.load_drill(name, mirrored=mirrored)


def routine(**more):
    return Routine("Invented & made up", MusicFile("x.wav"), first=Position(1, 3), last=Position(6, 8), **more)


def full():
    return make_sheet(
        routine(
            notes="<b>not bold</b>",
            laid=(Laid("clubs_mills", Position(1, 1), 6),),
            moments=(RoutineMoment("toss", Position(3, 7.5), "right"),),
            steps=(Steps(Position(2, 5), Position(4, 3)),),
        ),
        COUNTS,
        DURATION,
        load,
    )

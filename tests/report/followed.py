"""Two invented markers, as they would be followed in a film that is not there."""

from dataclasses import replace

import numpy as np

from tempo_coach.observe.film.film_trace import FilmTrace
from tempo_coach.observe.film.frames import Film
from tempo_coach.observe.trace.trace import Channel, Trace

FILM = Film("made_up.mp4", 320, 180, 0, 30.0, 0.0, 5.0, 5.0, False)
TIME = np.arange(151) / 30


def followed(*, names=("left", "right"), hidden=(), doubtful=(), turning=True, notes=(), film=FILM, time=TIME):
    """Two markers on circles of a second, the first one not seen or doubtful in stretches of time."""
    columns, channels = [], []
    for number, name in enumerate(names):
        angle = 2 * np.pi * (time - 0.25 * number) if turning else np.full(time.size, 0.3)
        x, y = 160 + 60 * np.cos(angle), -(90 + 60 * np.sin(angle))
        sure = np.ones(time.size)
        for start, end in doubtful if number == 0 else ():
            sure[(time >= start) & (time < end)] = 0.5
        for start, end in hidden if number == 0 else ():
            gone = (time >= start) & (time < end)
            x[gone], y[gone], sure[gone] = np.nan, np.nan, 0
        columns += [x, y, sure]
        channels += [Channel(f"{name} {axis} (px)", "position", axis, name, "px") for axis in "xy"]
        channels.append(Channel(f"{name} confidence", "other", "", f"{name} confidence"))
    moves = np.tile(np.array([[1.0, 0, 0], [0, 1.0, 0]]), (time.size, 1, 1))
    return FilmTrace(replace(film), Trace(time, np.column_stack(columns), channels), (), moves, tuple(notes))

"""Films: centres, periods, lags, alignment through a hall, wrong music, and the time and memory that a film takes.

Everything is rendered or synthesised from fixed seeds with exact truth (tests/generators/films.py, hall.py). Films are
coded with x264 at CRF 18, which leaves of such quiet pictures less than half a Mbit/s; the rows say how much.
Messengers leave 1 to 2 Mbit/s of a film of this size, phones record 10 and more (common practice, from memory).
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.files.sound import Sound
from tempo_coach.observe.film.frames import look_at_film
from tempo_coach.observe.film.marker_trace import MarkerSpec, follow_film
from tempo_coach.observe.sound.alignment import align
from tempo_coach.observe.trace.circles import find_circles
from tempo_coach.observe.trace.selection import pick
from tempo_coach.observe.trace.tracked_body import observe
from tempo_coach.score.trace.body_lag import measure_lag
from tests.benchmarks.table import Row
from tests.generators import films, hall, movement

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tempo_coach.observe.film.film_trace import FilmTrace

#: Runs a command and says, last, the processor's time in s and the most memory in MiB that its process had.
_MEASURED = (
    "from tempo_coach.cli import main; import os; assert main(sys.argv[1:]) == 0; used = os.times(); "
    "most = next(line for line in open('/proc/self/status') if line.startswith('VmHWM')).split()[1]; "
    "print(used.user + used.system, int(most) / 1024)"
)
SIZE = (1280, 720)
SECONDS = 12.0
CRF = 18
#: Seconds at both ends of a film at which a low point may be cut off.
_EDGE = 0.3


def run() -> Iterator[Row]:
    """Measure everything."""
    with tempfile.TemporaryDirectory() as folder:
        yield from _pictures(Path(folder))
        yield from _hard(Path(folder))
        yield from _sound()
        yield from _cost(Path(folder))


def _pictures(folder: Path) -> Iterator[Row]:
    for rate in (30, 60, 120):
        yield from _measure_mills(folder, f"mills, {rate} a second", rate)
    disturbed: dict[str, dict[str, object]] = {
        "long exposure (1/60 s)": {"exposure": 1 / 60},
        "noise of 8 levels": {"noise": 8.0},
        "compressed much": {"crf": 28},
        "shaken camera (8 px)": {"shake": 8.0},
    }
    for name, how in disturbed.items():
        yield from _measure_mills(folder, f"{name}, 60 a second", 60, seeds=2, **how)
    # a marker smeared over a thirtieth of its circle has its middle 0.3 px inside of it, if that is not undone
    worst = {"exposure": 1 / 50, "noise": 4.0, "crf": 20, "shake": 5.0, "people": 1}
    yield from _measure_mills(folder, "all of it at once, 30 a second", 30, seeds=2, **worst)
    centres, periods = [], []
    for seed in range(3):
        made = movement.rope(seed, n=6, noise=0.0)
        scene = _scene(
            {"rope": films.Marker(films.GREEN, _on_screen(made), 9.0)}, 60, seed, seconds=made.trace.duration
        )
        filmed = _follow(folder, scene, [MarkerSpec("rope", "green")])
        away = _away(filmed, "rope", scene)
        centres.append(away[~np.isnan(away)])
        found = find_circles(pick(filmed.trace, point="rope")).time
        periods.append(_period_errors(found, made.circles[""]))
    yield Row("figure eight, 60 a second: centre, RMS", _rms(np.concatenate(centres)), "px", 0.5, 0.2)
    yield Row("figure eight, 60 a second: period of a circle, SD", 1000 * np.concatenate(periods).std(), "ms", 4, 2)


def _measure_mills(
    folder: Path, what: str, rate: float, *, seeds: int = 3, crf: int = CRF, **how: object
) -> Iterator[Row]:
    periods, lags, centres, seen, coded = [], [], [], [], []
    for seed in range(seeds):
        scene, phases = _mills(seed, rate, **how)
        filmed = _follow(folder, scene, [MarkerSpec("left", "red"), MarkerSpec("right", "yellow")], crf=crf)
        coded.append(8e-6 * Path(filmed.film.path).stat().st_size / SECONDS)
        for name in ("left", "right"):
            away = _away(filmed, name, scene)
            centres.append(away[~np.isnan(away)])
            seen.append(np.mean(~np.isnan(away)))
            found = find_circles(pick(filmed.trace, point=name)).time
            periods.append(_period_errors(found, movement.low_points(phases[name], scene.times)))
        first, second = (observe(pick(filmed.trace, point=name)) for name in ("left", "right"))
        lows = movement.low_points(phases["right"], scene.times)
        true = 360 * float(np.mean(phases["left"](lows) % 1))
        lags.append(measure_lag(second, first).lag.degrees - true)
    away = np.concatenate(centres)
    yield Row(f"{what}: centre, RMS", _rms(away), "px", 0.5, 0.2)
    yield Row(f"{what}: centre, 99 of 100 within", float(np.quantile(away, 0.99)), "px")
    yield Row(f"{what}: seen", 100 * float(np.mean(seen)), "%", 98, 100, "high")
    yield Row(f"{what}: period of a circle, SD", 1000 * np.concatenate(periods).std(), "ms", 4, 2)
    yield Row(f"{what}: lag of two clubs, largest error", np.abs(_turn(lags)).max(), "°", 2)
    yield Row(f"{what}: coded with", float(np.mean(coded)), "Mbit/s")


def _hard(folder: Path) -> Iterator[Row]:
    one = lambda colour, **how: {"left": films.Marker(colour, _circle(640, 0.6), 10.0, **how)}  # noqa: E731 - a name for a row
    cases = {
        "two people passing, red": (_scene(one(films.RED), 60, 3, people=2), ["red"]),
        "two people passing, white": (_scene(one(films.WHITE), 60, 4, people=2), ["white"]),
        "hidden for 0.1 to 0.8 s": (
            _scene(one(films.BLUE, hidden=((2, 2.1), (4, 4.8), (8, 8.3))), 60, 5),
            ["blue"],
        ),
        "leaves the picture": (
            _scene({"left": films.Marker(films.YELLOW, _circle(1230, 0.6), 10.0)}, 60, 6),
            ["yellow"],
        ),
    }
    for name, (scene, colours) in cases.items():
        filmed = _follow(folder, scene, [MarkerSpec("left", colours[0])])
        away = _away(filmed, "left", scene)
        shows = _shows(scene, "left")
        yield Row(f"{name}: centre, RMS", _rms(away[shows & ~np.isnan(away)]), "px", 0.5, 0.2)
        yield Row(f"{name}: seen of what shows", 100 * float(np.mean(~np.isnan(away[shows]))), "%", 95, 100, "high")
        yield Row(f"{name}: seen where nothing is", float((~np.isnan(away[_gone(scene, "left")])).sum()), "pictures", 0)
    swapped = 0
    for seed in range(5):
        scene, _ = _mills(seed, 60, apart=120, colours=(films.RED, films.RED))
        filmed = _follow(folder, scene, [MarkerSpec("left", "red"), MarkerSpec("right", "red")])
        away = [_away(filmed, name, scene) for name in ("left", "right")]
        swapped += max(float(np.nanmax(each)) for each in away) > 30
    yield Row("two clubs of one colour that cross: films with a swap, of 5", swapped, "films", 0)


def _sound() -> Iterator[Row]:
    yield from _found_in_hall("hall and crowd at 0 dB", noise_db=0.0, reverb_s=1.8)
    yield from _found_in_hall("hall of 2.5 s and crowd at +10 dB", noise_db=10.0, reverb_s=2.5)
    wrong = 0
    for seed in range(200):
        rng = np.random.default_rng(1000 + seed)
        tempo = float(rng.uniform(80, 150))
        how = {"noise_db": 10.0, "reverb_s": 2.5} if seed % 4 >= 2 else {"noise_db": -10.0}
        film = hall.through_hall(hall.tune(2000 + seed, 30, tempo_bpm=tempo), seed, **how)
        # half of them as like as can be: the same tempo, scale and instruments
        other = hall.tune(5000 + seed, 60, tempo_bpm=tempo if seed % 2 else float(rng.uniform(80, 150)))
        try:
            align(_sound_of(film), _sound_of(other))
            wrong += 1
        except CoachError:
            pass
    yield Row("wrong music accepted, of 200", wrong, "films", 0)


def _found_in_hall(what: str, *, noise_db: float, reverb_s: float) -> Iterator[Row]:
    errors, refused, seconds = [], 0, []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        music = hall.tune(seed, 90, drums=seed % 2 == 0, tempo_bpm=rng.uniform(80, 150))
        first, length, ppm = float(rng.uniform(0, 45)), float(rng.choice([15, 30, 45])), float(rng.uniform(-150, 150))
        part = music[round(first * hall.RATE_HZ) : round((first + length) * hall.RATE_HZ)]
        film = hall.through_hall(part, seed, before=3.0, ppm=ppm, noise_db=noise_db, reverb_s=reverb_s)
        begin = time.perf_counter()
        try:
            found = align(_sound_of(film), _sound_of(music))
        except CoachError:
            refused += 1
            continue
        seconds.append(time.perf_counter() - begin)
        at = np.array([0.0, length])
        true = round(first * hall.RATE_HZ) / hall.RATE_HZ + at
        errors.append(np.abs(found.line.to_second(3.0 + at * (1 + ppm * 1e-6)) - true).max())
    yield Row(f"alignment, {what}: largest error", 1000 * max(errors), "ms", 5, 2)
    yield Row(f"alignment, {what}: median error", 1000 * float(np.median(errors)), "ms")
    yield Row(f"alignment, {what}: right ones refused, of 40", refused, "films", 2, 0)
    yield Row(f"alignment, {what}: time taken", float(np.median(seconds)), "s")


def _cost(folder: Path) -> Iterator[Row]:
    markers = {
        "left": films.Marker(films.RED, _circle(640, 0.625), 12.0),
        "right": films.Marker(films.YELLOW, _circle(1240, 0.625), 12.0),
    }
    scene = films.Scene(markers, films.steady_times(10, 60), (1920, 1080), people=1)
    films.write_film(folder / "ten.mp4", films.pictures(scene), size=(1920, 1080), crf=20, preset="veryfast")
    _repeat(folder / "ten.mp4", folder / "long.mp4", 6, 10.0)
    words = ["film", str(folder / "long.mp4"), "--marker", "left=red", "--marker", "right=yellow", "--out"]
    code = f"import sys; sys.argv[1:] = {[*words, str(folder / 'long.csv')]!r}; {_MEASURED}"
    begin = time.perf_counter()
    ran = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    wall = time.perf_counter() - begin
    processor, most = (float(word) for word in ran.stdout.splitlines()[-1].split())
    # Where others use the machine too, the processor's time says what both cores would take at most.
    yield Row("60 s of 1080p at 60 a second, two markers: processor time", processor, "s", 90)
    yield Row(f"the same: by the clock, the load being {os.getloadavg()[0]:.1f}", wall, "s")
    yield Row("the same: most memory", most, "MiB", 400)


def _mills(
    seed: int,
    rate: float,
    *,
    apart: int = 420,
    colours: tuple[tuple[int, int, int], ...] = (films.RED, films.YELLOW),
    **how: object,
) -> tuple[films.Scene, dict[str, movement.Phase]]:
    """Two clubs, half a circle apart, their periods off by 2 % (SD) from circle to circle."""
    rng = np.random.default_rng(seed)
    lead = movement.ticks(rng, int(SECONDS / 0.6) + 2, 0.6, start=-0.3)
    phases = {"left": movement.Phase(lead), "right": movement.Phase(lead + 0.3)}
    markers = {
        name: films.Marker(colour, films.turning(phases[name], (640 + (k - 0.5) * apart, 330), 160, 1 - 2 * k), 10.0)
        for k, (name, colour) in enumerate(zip(phases, colours, strict=True))
    }
    return _scene(markers, rate, seed, **how), phases


def _scene(
    markers: dict[str, films.Marker], rate: float, seed: int, *, seconds: float = SECONDS, **how: object
) -> films.Scene:
    times = films.steady_times(seconds, rate, jitter=0.05, seed=seed)
    return films.Scene(markers, times, SIZE, **({"exposure": 0.008, "people": 0, "seed": seed} | how))


def _circle(x: float, period: float) -> films.Path2D:
    return films.turning(lambda t: t / period, (x, 330), 160)


def _on_screen(made: movement.Movement) -> films.Path2D:
    """A movement in metres at 320 pixels a metre."""
    from scipy.interpolate import CubicSpline

    smooth = CubicSpline(made.trace.time, made.trace.values)
    return lambda times: np.array([640.0, 360.0]) + 320 * smooth(times) * (1, -1)


def _follow(folder: Path, scene: films.Scene, wanted: list[MarkerSpec], *, crf: int = CRF) -> FilmTrace:
    path = films.write_film(folder / "film.mp4", films.pictures(scene), size=scene.size, crf=crf, preset="veryfast")
    return follow_film(look_at_film(path), wanted)


def _away(filmed: FilmTrace, name: str, scene: films.Scene) -> np.ndarray:
    at = [channel.point for channel in filmed.trace.channels].index(name)
    truth = scene.markers[name].path(scene.times) + (scene.shift(scene.times[0]) if scene.shake else 0)
    return np.hypot(*(filmed.trace.values[:, at : at + 2] * (1, -1) - truth).T)


def _shows(scene: films.Scene, name: str) -> np.ndarray:
    """Whether the whole marker is in each picture."""
    marker = scene.markers[name]
    room = marker.radius + 8
    places = marker.path(scene.times)
    inside = ((places > room) & (places < np.array(scene.size) - room)).all(axis=1)
    return inside & np.array([marker.visible(time) for time in scene.times])


def _gone(scene: films.Scene, name: str) -> np.ndarray:
    """Whether nothing of the marker is in each picture."""
    marker = scene.markers[name]
    places = marker.path(scene.times)
    room = marker.radius + 8
    outside = ((places < -room) | (places > np.array(scene.size) + room)).any(axis=1)
    return outside | ~np.array([marker.visible(time) for time in scene.times])


def _period_errors(found: np.ndarray, true: np.ndarray) -> np.ndarray:
    """Errors of the periods of all circles that follow each other."""
    true = true[(true > true[0] + _EDGE) & (true < true[-1] - _EDGE)]
    nearest = np.abs(found[:, None] - true).argmin(axis=0)
    error = found[nearest] - true
    good = np.abs(error) < 0.1
    return np.diff(error)[good[1:] & good[:-1]]


def _repeat(source: Path, target: Path, times: int, seconds: float) -> None:
    """Write a film several times behind itself, without coding it again."""
    import av

    with av.open(str(target), "w") as out:
        stream = None
        for k in range(times):
            with av.open(str(source)) as one:
                video = one.streams.video[0]
                stream = stream or out.add_stream_from_template(video)
                for packet in one.demux(video):
                    if packet.dts is None:
                        continue
                    late = round(k * seconds / packet.time_base)
                    packet.pts, packet.dts = packet.pts + late, packet.dts + late
                    packet.stream = stream
                    out.mux(packet)


def _sound_of(wave: np.ndarray) -> Sound:
    return Sound(wave[:, None], hall.RATE_HZ)


def _rms(values: np.ndarray) -> float:
    return float(np.sqrt(np.mean(np.square(values))))


def _turn(degrees: list[float]) -> np.ndarray:
    return (np.array(degrees) + 180) % 360 - 180

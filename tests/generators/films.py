"""Rendered films with exact truth: coloured markers on known paths, blurred, noisy, shaken, compressed. All invented.

A marker is a disc. Its light is gathered over the exposure, centred on the picture's time, in linear light as in a
camera; then noise is added and the picture is encoded as a phone would.
"""

from __future__ import annotations

import fractions
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.film.frames import Frame
from tests.generators import movement

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

    Path2D = Callable[[np.ndarray], np.ndarray]

RED, GREEN, BLUE, YELLOW, PINK, WHITE = (
    (220, 30, 40), (30, 190, 70), (30, 80, 220), (235, 215, 30), (230, 60, 165), (250, 250, 250),
)  # fmt: skip
_SKIN, _CLOTHES = (205, 160, 135), (70, 75, 90)
_GAMMA = 2.2
_PARTS = 12
#: Brightness, Cb and Cr of red, green and blue of 0 to 255, in the range of film (ITU-R BT.601).
_LUMA = np.array([0.299, 0.587, 0.114])
_BT601 = np.column_stack(
    [
        np.array([219 * _LUMA, 112 * ([0, 0, 1] - _LUMA) / 0.886, 112 * ([1, 0, 0] - _LUMA) / 0.701]) / 255,
        [16, 128, 128],
    ]
)


@dataclass(frozen=True)
class Marker:
    """A disc: its colour, its radius in pixels, its path (times to x and y in pixels) and when it is hidden."""

    colour: tuple[int, int, int]
    path: Path2D
    radius: float = 7.0
    hidden: tuple[tuple[float, float], ...] = ()

    def visible(self, time: float) -> bool:
        return not any(start <= time < end for start, end in self.hidden)


@dataclass(frozen=True)
class Scene:
    """What is filmed, and how."""

    markers: dict[str, Marker]
    times: np.ndarray
    size: tuple[int, int] = (640, 360)
    exposure: float = 0.008
    noise: float = 2.0
    shake: float = 0.0
    people: int = 0
    seed: int = 0
    coloured: tuple[tuple[tuple[int, int, int], tuple[int, int, int, int]], ...] = field(default=())

    def shift(self, time: float) -> np.ndarray:
        """By how much the hand moves the picture at a time: some slow swings and a tremble, in pixels."""
        rng = np.random.default_rng(self.seed + 77)
        waves = rng.uniform(0.3, 2.5, (5, 2)), rng.uniform(0, 2 * np.pi, (5, 2))
        return self.shake * np.sin(2 * np.pi * waves[0] * time + waves[1]).mean(axis=0) * 2


def pictures(scene: Scene) -> Iterator[tuple[float, np.ndarray]]:
    """Yield time and picture (height, width, 3), RGB."""
    width, height = scene.size
    rng = np.random.default_rng(scene.seed)
    margin = int(np.ceil(2 * scene.shake)) + 2
    ground = _ground(rng, width + 2 * margin, height + 2 * margin, scene)
    grains = [
        (scene.noise * rng.standard_normal((height, width, 3))).astype(np.float32) if scene.noise else None
        for _ in range(5)
    ]
    for k, time in enumerate(scene.times):
        shift = scene.shift(time) if scene.shake else np.zeros(2)
        picture = _moved(ground, shift, margin, width, height)
        for number in range(scene.people):
            _person(picture, number, time, shift)
        for marker in scene.markers.values():
            if marker.visible(time):
                _draw(picture, marker, time + scene.exposure * (np.arange(_PARTS) + 0.5 - _PARTS / 2) / _PARTS, scene)
        grain = grains[k % 5]
        if grain is not None:
            np.add(picture, np.roll(grain, int(rng.integers(1 << 16)), axis=0), out=picture)
        yield float(time), np.clip(picture + 0.5, 0, 255).astype(np.uint8)


def _ground(rng: np.random.Generator, width: int, height: int, scene: Scene) -> np.ndarray:
    """A hall: a wall and a floor of soft grey-brown texture, lines and boxes to hold on to."""
    coarse = rng.standard_normal((height // 24 + 2, width // 24 + 2))
    y, x = np.mgrid[:height, :width] / 24.0
    iy, ix, fy, fx = y.astype(int), x.astype(int), y % 1, x % 1
    soft = (coarse[iy, ix] * (1 - fx) + coarse[iy, ix + 1] * fx) * (1 - fy) + (
        coarse[iy + 1, ix] * (1 - fx) + coarse[iy + 1, ix + 1] * fx
    ) * fy
    ground = np.empty((height, width, 3), np.float32)
    ground[:] = np.where(np.arange(height)[:, None, None] < 0.7 * height, (150, 148, 142), (172, 158, 140))
    ground += (9 * soft)[..., None].astype(np.float32)
    for _ in range(25):
        left, top = rng.integers(0, width - 20), rng.integers(0, height - 20)
        wide, high = rng.integers(6, width // 8), rng.integers(6, height // 8)
        ground[top : top + high, left : left + wide] += np.float32(rng.uniform(-45, 45))
    for colour, (left, top, wide, high) in scene.coloured:
        ground[top : top + high, left : left + wide] = colour
    return np.clip(ground, 0, 255)


def _moved(ground: np.ndarray, shift: np.ndarray, margin: int, width: int, height: int) -> np.ndarray:
    """The part of the ground that the camera sees, at fractions of a pixel."""
    x, y = margin - shift[0], margin - shift[1]
    left, top = int(np.floor(x)), int(np.floor(y))
    if not shift.any():
        return ground[top : top + height, left : left + width].copy()
    fx, fy = np.float32(x - left), np.float32(y - top)
    rows = ground[top : top + height + 1, left : left + width + 1]
    across = rows[:, :-1] * (1 - fx) + rows[:, 1:] * fx
    return across[:-1] * (1 - fy) + across[1:] * fy


def _person(picture: np.ndarray, number: int, time: float, shift: np.ndarray) -> None:
    height, width = picture.shape[:2]
    size = height // 9
    x = int(width * (0.5 + 0.42 * np.sin(0.7 * time + 2.1 * number)) + shift[0])
    y = int(height * 0.45 + shift[1] + 0.05 * height * np.sin(1.3 * time + number))
    for colour, (left, top, right, bottom) in (
        (_CLOTHES, (x - size // 2, y, x + size // 2, y + 3 * size)),
        (_SKIN, (x - size // 4, y - size // 2, x + size // 4, y)),
    ):
        picture[max(top, 0) : max(bottom, 0), max(left, 0) : max(right, 0)] = colour


def _draw(picture: np.ndarray, marker: Marker, times: np.ndarray, scene: Scene) -> None:
    height, width = picture.shape[:2]
    places = marker.path(times) + np.array([scene.shift(t) if scene.shake else np.zeros(2) for t in times])
    reach = marker.radius + 2
    left, top = np.maximum(np.floor(places.min(axis=0) - reach).astype(int), 0)
    right, bottom = np.minimum(np.ceil(places.max(axis=0) + reach).astype(int) + 1, (width, height))
    if left >= right or top >= bottom:
        return
    y, x = np.mgrid[top:bottom, left:right]
    cover = np.mean([np.clip(marker.radius + 0.5 - np.hypot(x - px, y - py), 0, 1) for px, py in places], axis=0)[
        ..., None
    ]
    behind = (np.clip(picture[top:bottom, left:right], 0, 255) / 255) ** _GAMMA
    light = behind * (1 - cover) + (np.array(marker.colour) / 255) ** _GAMMA * cover
    picture[top:bottom, left:right] = 255 * light ** (1 / _GAMMA)


def write_film(
    path: Path,
    shown: Iterable[tuple[float, np.ndarray]],
    *,
    size: tuple[int, int],
    sound: np.ndarray | None = None,
    rate_hz: int = 48_000,
    codec: str = "libx264",
    sound_codec: str = "aac",
    crf: int = 23,
    turned: int = 0,
    metadata: dict[str, str] | None = None,
    transfer: int | None = None,
    nominal_hz: int = 30,
    preset: str = "ultrafast",
) -> Path:
    """Write pictures at their own times (to 1/90000 s), and mono or stereo sound that begins at 0.

    With a transfer function of ITU-T H.273 (16: PQ, 18: HLG) the film is an HDR one of 10 bits.
    """
    import av

    tags = {"video_track_timescale": "90000"} if path.suffix in (".mp4", ".mov") else {}
    if metadata:
        tags["movflags"] = "use_metadata_tags"
    with av.open(str(path), "w", options=tags) as container:
        container.metadata.update(metadata or {})
        stream = container.add_stream(codec, rate=nominal_hz)
        stream.width, stream.height = size
        stream.pix_fmt = "yuv420p" if transfer is None else "yuv420p10le"
        stream.time_base = stream.codec_context.time_base = fractions.Fraction(1, 90_000)
        stream.codec_context.thread_count = 1  # the same file every time
        if codec == "libx264":
            stream.options = {"crf": str(crf), "preset": preset}
        if transfer is not None:
            stream.codec_context.color_trc = transfer
            stream.codec_context.color_primaries = stream.codec_context.colorspace = 9
        if turned:
            stream.set_display_rotation(turned)
        if sound is not None:
            _add_sound(container, sound, rate_hz, sound_codec)
        for time, picture in shown:
            if transfer is None:
                frame = av.VideoFrame.from_ndarray(_to_yuv(picture), format="yuv420p")
            else:
                frame = av.VideoFrame.from_ndarray(to_hdr(picture, transfer), format="yuv420p10le")
            frame.pts, frame.time_base = round(time * 90_000), fractions.Fraction(1, 90_000)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
        for late in container.streams.audio:
            container.mux(late.encode(None))
    return path


def _to_yuv(picture: np.ndarray) -> np.ndarray:
    """Brightness and colour differences as ITU-R BT.601 has them, colours sited as H.264 has them by default.

    A colour value stands for the left of its two columns and the middle of its two rows.
    """
    import cv2

    luma, blue, red = cv2.split(cv2.transform(picture.astype(np.float32), _BT601))
    planes = [luma, *(_every_second(colour) for colour in (blue, red))]
    flat = np.concatenate([plane.ravel() for plane in planes])
    return np.clip(flat + 0.5, 0, 255).astype(np.uint8).reshape(-1, picture.shape[1])


def _every_second(colour: np.ndarray) -> np.ndarray:
    """A plane of colour at half the size: the left of two columns, with its neighbours' light, between two rows."""
    rows = (colour[::2] + colour[1::2]) / 2
    wide = np.pad(rows, ((0, 0), (1, 1)), mode="edge")
    return (wide[:, :-2:2] + 2 * wide[:, 1:-1:2] + wide[:, 2::2]) / 4


def to_hdr(picture: np.ndarray, transfer: int) -> np.ndarray:
    """A picture as an HDR camera writes it: light in the primaries of BT.2020, PQ (16) or HLG (18), 10 bits.

    From ITU-R BT.2087 (primaries), BT.2100 tables 4 and 5 (transfer), BT.2408 (a white sheet at 203 cd/m², or 75 % of
    HLG) and BT.2020 table 4 (luma and colour differences).
    """
    primaries = np.array([[0.6274, 0.3293, 0.0433], [0.0691, 0.9195, 0.0114], [0.0164, 0.0880, 0.8956]])
    light = (picture.astype(float) / 255) ** _GAMMA @ primaries.T
    if transfer == 16:
        power = (light * 203 / 10_000) ** (2610 / 16384)
        signal = ((3424 / 4096 + 2413 / 128 * power) / (1 + 2392 / 128 * power)) ** (2523 / 32)
    else:
        light = light * 0.265
        high = 0.17883277 * np.log(np.maximum(12 * light - 0.28466892, 1e-9)) + 0.55991073
        signal = np.where(light <= 1 / 12, np.sqrt(3 * light), high)
    red, green, blue = np.moveaxis(signal, -1, 0)
    luma = 0.2627 * red + 0.6780 * green + 0.0593 * blue
    planes = [64 + 876 * luma]
    for colour, scale in ((blue, 1.8814), (red, 1.4746)):
        planes.append(512 + _every_second(896 * (colour - luma) / scale))
    flat = np.concatenate([plane.ravel() for plane in planes])
    return np.clip(flat + 0.5, 0, 1023).astype(np.uint16).reshape(-1, picture.shape[1])


def write_sound_only(path: Path, sound: np.ndarray, *, rate_hz: int = 48_000, codec: str = "aac") -> Path:
    """Write sound alone, as m4a, aac or mkv by the name's ending."""
    import av

    with av.open(str(path), "w") as container:
        _add_sound(container, sound, rate_hz, codec)
        for stream in container.streams.audio:
            container.mux(stream.encode(None))
    return path


def _add_sound(container: object, sound: np.ndarray, rate_hz: int, codec: str) -> None:
    import av

    samples = np.atleast_2d(np.asarray(sound, np.float32).T)
    layout = "mono" if len(samples) == 1 else "stereo"
    stream = container.add_stream(codec, rate=rate_hz, layout=layout)  # type: ignore[attr-defined]
    stream.bit_rate = 128_000
    for start in range(0, samples.shape[1], 1024):
        frame = av.AudioFrame.from_ndarray(
            np.ascontiguousarray(samples[:, start : start + 1024]), format="fltp", layout=layout
        )
        frame.sample_rate, frame.pts = rate_hz, start
        frame.time_base = fractions.Fraction(1, rate_hz)
        container.mux(stream.encode(frame))  # type: ignore[attr-defined]


def steady_times(seconds: float, rate_hz: float, *, jitter: float = 0.0, seed: int = 0) -> np.ndarray:
    """Times of pictures; the jitter is a share of the step, and no two change places."""
    k = np.arange(round(seconds * rate_hz))
    off = np.clip(jitter * np.random.default_rng(seed).standard_normal(k.size), -0.4, 0.4)
    off[:1] = 0
    return (k + off) / rate_hz


def turning(
    phase: Callable[[np.ndarray], np.ndarray], centre: tuple[float, float], radius: float, sense: int = 1
) -> Path2D:
    """A path that is at its low point, in the picture at the bottom, where the phase is whole."""

    def path(times: np.ndarray) -> np.ndarray:
        at = movement.turning(phase(np.asarray(times)), radius, sense)
        return np.array(centre) + at * (1, -1)

    return path


def to_frame(picture: np.ndarray, time: float = 0.0) -> Frame:
    """A picture as a decoder would give it, without the losses of a coder."""
    rows, columns = picture.shape[:2]
    flat = _to_yuv(picture).ravel()
    luma, rest = flat[: rows * columns].reshape(rows, columns), flat[rows * columns :]
    blue, red = rest.reshape(2, rows // 2, columns // 2)
    return Frame(time, luma, blue, red, (0.0, 0.5))

"""Map of a piece of music by its eights: how loud and dense, its sections, accents, and changes of character."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.music.beats.features import FINE_HZ, FRAME_HZ, hear

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from tempo_coach.music.beats.features import Features
    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.music.files.sound import Sound

#: Frames of features between two of their chroma.
_TONES_EVERY = 10
#: Eights on either side that are compared where a section may begin, and the fewest that one has (common practice:
#: phrases of four eights, halves of two).
_SIDE, _SHORTEST = 2, 2
#: Counts of the last eight that are to be there, so that it counts as one.
_WHOLE = 6
#: Novelty from which a section begins, in SDs of an eight's features, and the distance below which two sections are
#: the same one again. Tuned on music of the tests' small synthesiser, in which sections are known.
_NEW, _ALIKE = 1.6, 1.1
#: Least changes that are reported: dB, ratio of density, difference of the share of high onsets.
_LOUDER_DB, _DENSER, _BRIGHTER = 4.0, 1.5, 0.12
#: An accent stands out of the counts this far around by so much: robust SDs of how hard counts are struck, and of how
#: loud they are, added up.
_AROUND, _ACCENT = 12, 4.0
#: Those SDs are taken for this at least: a share of the median, and dB.
_LEAST_STRUCK, _LEAST_DB = 0.15, 1.5
#: Seconds around a count in which it is struck, and after it in which it is as loud as it is heard.
_NEAR, _HEARD = 0.05, 0.15


class Accent(NamedTuple):
    """A strong accent: its position in counts, and by how many robust SDs it stands out."""

    at: float
    strength: float


@dataclass(frozen=True)
class MapRow:
    """One eight.

    Parameters
    ----------
    number : int
        From 1.
    loud_db : float
        Level below that of the loudest eight, 0 or less.
    dense : float
        Attacks a count.
    section : str
        Letter of its section: the same where it comes again.
    begins : bool
        Whether a section begins here.
    changes : tuple of str
        ``louder``, ``softer``, ``denser``, ``sparser``, ``brighter``, ``darker`` against the section before, where one
        begins.
    accents : tuple of Accent
        In order of place.
    """

    number: int
    loud_db: float
    dense: float
    section: str
    begins: bool
    changes: tuple[str, ...]
    accents: tuple[Accent, ...]


def map_music(sound: Sound, counts: CountMap, *, progress: Callable[[float], None] | None = None) -> tuple[MapRow, ...]:
    """Return the map of a piece of music.

    Parameters
    ----------
    sound : Sound
    counts : CountMap
        Of the sound, corrected.
    progress : callable or None
        Told the share that is done, 0 to 1.

    Returns
    -------
    tuple of MapRow
        One for each eight that begins inside the music.
    """
    features = hear(sound, progress=progress)
    spans = _eight_spans(counts, sound.duration)
    if not spans:
        return ()
    power = np.array([_power(sound, *span) for _, span in spans])
    loud = 10 * np.log10(np.maximum(power / max(float(power.max()), 1e-20), 1e-8))
    sizes = np.array(_sizes(counts, spans))
    dense = np.array([_density(features, *span) for _, span in spans]) / np.maximum(sizes, 1)
    bright = np.array([_brightness(features, *span) for _, span in spans])
    tones = np.array([_tones(features, *span) for _, span in spans])
    columns = _columns(loud, dense, bright, tones)
    # what rings out after the last whole eight is no section of its own
    told = len(spans) - int(sizes[-1] < _WHOLE)
    begins = _find_sections(columns[:told])
    letters = _name_sections(columns[:told], begins)
    letters += letters[-1:] * (len(spans) - told)
    accents = _find_accents(sound, features, counts)
    rows = []
    for k, (number, _) in enumerate(spans):
        first = counts.start_of_eight(number)
        behind = counts.start_of_eight(number + 1)
        here = tuple(each for each in accents if first <= each.at < behind)
        changes = _changes(begins, k, loud, dense, bright) if k in begins and k else ()
        rows.append(
            MapRow(number, round(float(loud[k]), 2), round(float(dense[k]), 2), letters[k], k in begins, changes, here)
        )
    return tuple(rows)


def nearest_accent(rows: tuple[MapRow, ...], at: float, *, within: float) -> Accent | None:
    """Return the strongest accent within a number of counts of a position, or None.

    Parameters
    ----------
    rows : tuple of MapRow
    at : float
        Position in counts.
    within : float
        Counts.
    """
    near = [each for row in rows for each in row.accents if abs(each.at - at) <= within]
    return max(near, key=lambda each: each.strength, default=None)


def _eight_spans(counts: CountMap, duration: float) -> list[tuple[int, tuple[float, float]]]:
    """Return the number of every eight, and its first and last second."""
    found = []
    number = 1
    while (first := counts.start_of_eight(number)) <= counts.last_count:
        behind = min(counts.start_of_eight(number + 1), counts.last_count + 1)
        begin = float(counts.seconds_at(first, after=True))
        end = min(float(counts.seconds_at(behind)), duration)
        if begin >= duration or end <= begin:
            break
        found.append((number, (begin, end)))
        number += 1
    return found


def _sizes(counts: CountMap, spans: list[tuple[int, tuple[float, float]]]) -> list[float]:
    return [
        min(counts.start_of_eight(number + 1), counts.last_count + 1) - counts.start_of_eight(number)
        for number, _ in spans
    ]


def _power(sound: Sound, begin: float, end: float) -> float:
    part = sound.samples[round(begin * sound.rate_hz) : max(round(end * sound.rate_hz), 1)]
    return float(np.mean(np.square(part, dtype=np.float64))) if len(part) else 0.0


def _density(features: Features, begin: float, end: float) -> float:
    """Return the number of attacks between two times: prominent peaks of the onset strength."""
    total = features.onset.sum(axis=1)
    part = total[int(begin * FRAME_HZ) : int(end * FRAME_HZ) + 1]
    if part.size < 3:
        return 0.0
    floor = 0.25 * float(np.percentile(total, 98))
    middle = part[1:-1]
    return float(np.sum((middle > part[:-2]) & (middle >= part[2:]) & (middle > floor)))


def _brightness(features: Features, begin: float, end: float) -> float:
    """Return the share of the onset strength above 2 kHz."""
    part = features.onset[int(begin * FRAME_HZ) : int(end * FRAME_HZ) + 1].sum(axis=0)
    return float(part[2] / part.sum()) if part.sum() > 0 else 0.0


def _tones(features: Features, begin: float, end: float) -> NDArray[np.float64]:
    rate_hz = FRAME_HZ / _TONES_EVERY
    part = features.tones[int(begin * rate_hz) : int(end * rate_hz) + 1]
    mean = np.asarray(part.mean(axis=0) if len(part) else np.zeros(12), dtype=np.float64)
    size = float(np.linalg.norm(mean))
    return mean / size if size > 0 else mean


def _columns(
    loud: NDArray[np.float64], dense: NDArray[np.float64], bright: NDArray[np.float64], tones: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the features by which eights are compared, shape (n, 15), scaled so that 1 is an audible difference."""
    return np.column_stack(
        [
            np.maximum(loud, -40) / _LOUDER_DB,
            np.log(dense + 0.2) / np.log(_DENSER),
            bright / _BRIGHTER,
            tones * 3.0,
        ]
    )


def _find_sections(columns: NDArray[np.float64]) -> list[int]:
    """Return the eights that begin a section."""
    number = len(columns)
    novelty = np.zeros(number)
    for k in range(_SHORTEST, number - 1):
        before, behind = columns[max(0, k - _SIDE) : k], columns[k : k + _SIDE]
        novelty[k] = float(np.linalg.norm(np.median(behind, axis=0) - np.median(before, axis=0)))
        novelty[k] -= 0.5 * (_spread(before) + _spread(behind))
    begins = [0]
    for k in np.argsort(-novelty):
        if novelty[k] >= _NEW and all(abs(k - each) >= _SHORTEST for each in begins):
            begins.append(int(k))
    return sorted(begins)


def _spread(part: NDArray[np.float64]) -> float:
    return float(np.linalg.norm(part - part.mean(axis=0), axis=1).mean())


def _name_sections(columns: NDArray[np.float64], begins: list[int]) -> list[str]:
    """Return the letter of each eight's section; similar sections share one."""
    ends = [*begins[1:], len(columns)]
    means: list[NDArray[np.float64]] = []
    letters: list[str] = []
    for begin, end in zip(begins, ends, strict=True):
        mean = np.median(columns[begin:end], axis=0)
        apart = [float(np.linalg.norm(mean - each)) for each in means]
        if apart and min(apart) < _ALIKE:
            which = int(np.argmin(apart))
        else:
            which = len(means)
            means.append(mean)
        letters += [chr(ord("A") + which % 26)] * (end - begin)
    return letters


def _changes(
    begins: list[int], at: int, loud: NDArray[np.float64], dense: NDArray[np.float64], bright: NDArray[np.float64]
) -> tuple[str, ...]:
    """Return how a section differs from the one before it."""
    place = begins.index(at)
    before = slice(begins[place - 1], at)
    here = slice(at, begins[place + 1] if place + 1 < len(begins) else len(loud))
    step = float(np.median(loud[here]) - np.median(loud[before]))
    ratio = float((np.median(dense[here]) + 0.2) / (np.median(dense[before]) + 0.2))
    tone = float(np.median(bright[here]) - np.median(bright[before]))
    found = []
    if abs(step) >= _LOUDER_DB:
        found.append("louder" if step > 0 else "softer")
    if ratio >= _DENSER or ratio <= 1 / _DENSER:
        found.append("denser" if ratio > 1 else "sparser")
    if abs(tone) >= _BRIGHTER:
        found.append("brighter" if tone > 0 else "darker")
    return tuple(found)


def _find_accents(sound: Sound, features: Features, counts: CountMap) -> list[Accent]:
    """Return the counts whose attacks stand out from those around them."""
    places = np.arange(max(0.0, counts.first_count), counts.last_count + 1)
    if places.size < 4:
        return []
    times = counts.seconds_at(places, after=True)
    reach = round(_NEAR * FINE_HZ)
    at = np.round(times * FINE_HZ).astype(int)
    curve = np.pad(features.fine, (reach, reach + 1))
    struck = np.array([float(curve[max(0, k) : k + 2 * reach + 1].max(initial=0.0)) for k in at])
    level = np.array([10 * np.log10(max(_power(sound, time, time + _HEARD), 1e-10)) for time in times.tolist()])
    found = []
    for k in range(1, places.size):  # the first count follows on nothing
        around = slice(max(0, k - _AROUND), k + _AROUND + 1)
        out = _stand_out(struck, k, around, least=_LEAST_STRUCK * float(np.median(struck[around])))
        out += _stand_out(level, k, around, least=_LEAST_DB)
        if out >= _ACCENT:
            found.append(Accent(float(places[k]), round(min(out, 99.0), 2)))
    return found


def _stand_out(values: NDArray[np.float64], at: int, around: slice, *, least: float) -> float:
    """Return the distance of each value from those around it in robust SDs, the SD no smaller than a minimum."""
    part = values[around]
    middle = float(np.median(part))
    spread = max(1.4826 * float(np.median(np.abs(part - middle))), least, 1e-9)
    return float(values[at] - middle) / spread

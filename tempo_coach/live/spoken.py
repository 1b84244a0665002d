"""What is said aloud around a take: the seconds while she walks in, and a few words when it is over.

The words are recordings, one file a word, in a folder; where a folder lacks one the next folder is asked, and a word
that nobody has recorded stays unsaid (the seconds are then clicks). Nothing here plays: it returns samples.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.music.sound import Sound, read_sound, resample

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from pathlib import Path

    from tempo_coach.score.card import Scorecard

#: The last so many seconds of walking in are said.
SECONDS_SAID = 5
NUMBERS = ("one", "two", "three", "four", "five")
ORDINALS = ("first", "second", "third", "fourth")
#: Every word that may be said around a take.
WORDS = (
    *NUMBERS,
    "again",
    "even",
    "early",
    "late",
    "left",
    "right",
    *(f"{word} circle" for word in ORDINALS),
    "steadier",
)
#: Seconds between two words.
BETWEEN = 0.15
_ENDINGS = (".wav", ".flac", ".ogg")


def load_words(folders: Iterable[Path], rate_hz: int) -> dict[str, Sound]:
    """Return the recorded words of some folders, at one rate.

    Parameters
    ----------
    folders : iterable of Path
        Her own first: a word of an earlier folder is taken. Folders that are not there are passed over.
    rate_hz : int

    Returns
    -------
    dict of word to Sound
        A file ``second_circle.wav`` is the word "second circle".
    """
    found: dict[str, Sound] = {}
    for folder in folders:
        for path in sorted(folder.glob("*")) if folder.is_dir() else ():
            word = path.stem.replace("_", " ").lower()
            if path.suffix.lower() in _ENDINGS and word in WORDS and word not in found:
                found[word] = resample(read_sound(path), rate_hz)
    return found


def mix_walk_in(seconds: float, words: Mapping[str, Sound], click: Sound) -> Sound:
    """Return what is heard while she walks in: the last seconds, said or clicked, each on its second.

    Parameters
    ----------
    seconds : float
    words : mapping of word to Sound
        At the rate of ``click``.
    click : Sound
        For a second that nobody has recorded.

    Returns
    -------
    Sound
        Stereo, ``seconds`` long; at ``seconds - k`` begins the number k.
    """
    rate_hz = click.rate_hz
    length = round(seconds * rate_hz)
    samples = np.zeros((length, 2), np.float32)
    for left in range(1, min(SECONDS_SAID, math.floor(seconds)) + 1):
        word = words.get(NUMBERS[left - 1], click)
        _add(samples, word, round((seconds - left) * rate_hz))
    return Sound(samples, rate_hz)


def choose_words(card: Scorecard, previous: Scorecard | None = None, *, again: bool = False) -> tuple[str, ...]:
    """Return the few words that are said of a take, none of them out of its own scatter.

    The cycle that broke most gives hand, circle, and early or late; where none broke it was even.

    Parameters
    ----------
    card : Scorecard
    previous : Scorecard or None
        The take before, for "steadier".
    again : bool
        Whether another one follows by itself.

    Examples
    --------
    ``("right", "second circle", "late", "again")``
    """
    if not card.measures["bias_ms"].n:
        return ("again",) if again else ()
    said: list[str] = []
    flags = [(cycle, flag) for cycle in card.flagged for flag in cycle.flags if flag.kind in ("early", "late")]
    if flags:
        cycle, flag = max(flags, key=lambda pair: abs(pair[1].by))
        if cycle.hand in ("left", "right") and len(card.plan.hands) > 1:
            said.append(cycle.hand)
        number = cycle.labels.index(flag.label) if flag.label in cycle.labels else 0
        if len(cycle.labels) > 1 and number < len(ORDINALS) and cycle.kinds[number] == "circle":
            said.append(f"{ORDINALS[number]} circle")
        said.append(flag.kind)
    elif not card.flagged and not len(card.missed):
        said.append("even")
    if previous is not None and _is_steadier(card, previous):
        said.append("steadier")
    return (*said, "again") if again else tuple(said)


def join_words(said: Sequence[str], words: Mapping[str, Sound], *, rate_hz: int) -> Sound | None:
    """Return words one after the other; None where nobody has recorded any of them."""
    known = [words[word] for word in said if word in words]
    if not known:
        return None
    gap = np.zeros((round(BETWEEN * rate_hz), 2), np.float32)
    parts: list[np.ndarray] = []
    for word in known:
        parts += [_as_stereo(word), gap]
    return Sound(np.concatenate(parts), rate_hz)


def _is_steadier(card: Scorecard, previous: Scorecard) -> bool:
    """Whether the spread fell by more than both intervals allow."""
    now, before = card.measures["spread_ms"], previous.measures["spread_ms"]
    return not math.isnan(now.high) and not math.isnan(before.low) and now.high < before.low


def _as_stereo(sound: Sound) -> np.ndarray:
    mono: np.ndarray = sound.samples.mean(axis=1, keepdims=True)
    return np.repeat(mono, 2, axis=1).astype(np.float32)


def _add(samples: np.ndarray, sound: Sound, at: int) -> None:
    both = _as_stereo(sound)[: max(len(samples) - at, 0)]
    samples[at : at + len(both)] += both

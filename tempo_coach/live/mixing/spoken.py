"""Spoken words: counts on the beat, seconds during the walk-in, and a few words after a take.

The words are recordings, one file a word, in a folder; where a folder lacks one the next folder is asked, and a word
that nobody has recorded stays unsaid (counts and seconds are then clicks). Nothing here plays: it returns samples.

A spoken word is felt to begin where its vowel rises, a tenth of a second after its first sound. A folder may say on
which sample that is, in a table ``places.csv`` with the columns word and sample; without it the place is found.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError, nearest
from tempo_coach.languages import spoken
from tempo_coach.music.files.sound import Sound, resample
from tempo_coach.music.files.sound_file import read_sound
from tempo_coach.resources import find_shared, read_text
from tempo_coach.score.measures.steadiness import compare_takes

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from tempo_coach.score.card import Scorecard

#: Last seconds of the walk-in that are spoken.
SECONDS_SAID = 5
NUMBERS = ("one", "two", "three", "four", "five", "six", "seven", "eight")
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
#: The language whose words are taken where another one has none.
DEFAULT_LANGUAGE = "en"
PLACES = "places.csv"
_ENDINGS = (".wav", ".flac", ".ogg")


def word_of(text: str) -> str:
    """Return the key of a spoken text: lower-case words and single blanks; its file has underscores.

    Examples
    --------
    >>> word_of("Chin up!")
    'chin up'
    """
    return " ".join("".join(sign if sign.isalnum() else " " for sign in text.lower()).split())


class Word(NamedTuple):
    """A recorded word, and the sample of its perceptual onset."""

    sound: Sound
    place: int = 0


def find_voice(name: str | Path | None = None) -> tuple[Path, ...]:
    """Return the folders of words of a voice, by priority.

    Parameters
    ----------
    name : str, Path or None
        A language that came with the program, or a folder of recordings; none is the language in which everything
        is said, if it came with words. What it lacks is taken from ``DEFAULT_LANGUAGE``.

    Raises
    ------
    CoachError
        If there is neither.
    """
    ours = find_shared("sounds") / "voice"
    default = ours / DEFAULT_LANGUAGE
    if not name:
        hers = spoken().code.partition("_")[0]
        name = hers if (ours / hers).is_dir() else DEFAULT_LANGUAGE
    if str(name) == DEFAULT_LANGUAGE:
        return (default,)
    if Path(name).is_dir():
        return (Path(name), default)
    languages = sorted(each.name for each in ours.iterdir() if each.is_dir())
    if str(name) in languages:
        return (ours / str(name), default)
    guess = nearest(str(name), languages)
    raise CoachError("voice.unknown", where="--voice", languages=languages, name=name, nearest=guess)


def load_words(folders: Iterable[Path], rate_hz: int, *, also: Iterable[str] = ()) -> dict[str, Word]:
    """Return the recorded words in some folders, at one sample rate.

    Parameters
    ----------
    folders : iterable of Path
        Her own first: a word of an earlier folder is taken. Folders that are not there are passed over.
    rate_hz : int
    also : iterable of str
        Words besides ``WORDS``, in small letters.

    Returns
    -------
    dict of word to Word
        A file ``second_circle.wav`` is the word "second circle".

    Raises
    ------
    CoachError
        If a recording or a table of places cannot be read.
    """
    from tempo_coach.observe.sound.detector import find_vowel

    found: dict[str, Word] = {}
    known = {*WORDS, *also}
    for folder in folders:
        places = _read_places(folder / PLACES)
        for path in sorted(folder.glob("*")) if folder.is_dir() else ():
            word = path.stem.replace("_", " ").lower()
            if path.suffix.lower() in _ENDINGS and word in known and word not in found:
                sound = read_sound(path)
                place = places[word] if word in places else find_vowel(sound.mono(), sound.rate_hz)
                found[word] = Word(resample(sound, rate_hz), round(place * rate_hz / sound.rate_hz))
    return found


def _read_places(path: Path) -> dict[str, int]:
    if not path.is_file():
        return {}
    try:
        rows = list(csv.DictReader(read_text(path, what="table_of_words").splitlines()))
        return {row["word"].strip().lower(): int(row["sample"]) for row in rows}
    except (OSError, KeyError, TypeError, AttributeError, ValueError) as error:
        raise CoachError("spoken.columns", where=str(path)) from error


def mix_walk_in(seconds: float, words: Mapping[str, Word], click: Sound) -> Sound:
    """Return the sound of the walk-in: its last seconds, spoken or clicked, each on its second.

    Parameters
    ----------
    seconds : float
    words : mapping of word to Word
        At the rate of ``click``.
    click : Sound
        For a second that nobody has recorded.

    Returns
    -------
    Sound
        Stereo, ``seconds`` long; on ``seconds - k`` lies the number k.
    """
    rate_hz = click.rate_hz
    length = round(seconds * rate_hz)
    samples = np.zeros((length, 2), np.float32)
    for left in range(1, min(SECONDS_SAID, math.floor(seconds)) + 1):
        word = words.get(NUMBERS[left - 1], Word(click))
        _add(samples, word, round((seconds - left) * rate_hz))
    return Sound(samples, rate_hz)


def choose_words(card: Scorecard, previous: Scorecard | None = None, *, again: bool = False) -> tuple[str, ...]:
    """Return the few words about a take, none of them within its own scatter.

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
    elif found := {"even": "even", "all_late": "late", "all_early": "early"}.get(card.findings[0].kind, ""):
        said.append(found)
    if previous is not None and compare_takes(card, previous) > 0:
        said.append("steadier")
    return (*said, "again") if again else tuple(said)


def join_words(said: Sequence[str], words: Mapping[str, Word], *, rate_hz: int) -> Sound | None:
    """Return words in succession; None where none of them has been recorded."""
    known = [words[word].sound for word in said if word in words]
    if not known:
        return None
    gap = np.zeros((round(BETWEEN * rate_hz), 2), np.float32)
    parts: list[np.ndarray] = []
    for word in known:
        parts += [_as_stereo(word), gap]
    return Sound(np.concatenate(parts), rate_hz)


def _as_stereo(sound: Sound) -> np.ndarray:
    mono: np.ndarray = sound.samples.mean(axis=1, keepdims=True)
    return np.repeat(mono, 2, axis=1).astype(np.float32)


def _add(samples: np.ndarray, word: Word, at: int) -> None:
    """Add a word with its perceptual onset at a sample, truncated at the ends."""
    first = at - word.place
    both = _as_stereo(word.sound)[max(-first, 0) : max(len(samples) - first, 0)]
    samples[max(first, 0) : max(first, 0) + len(both)] += both

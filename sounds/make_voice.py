"""Make the spoken words: ``python sounds/make_voice.py [FOLDER]``; it needs ``espeak-ng`` (Debian: apt install).

Each word is trimmed to what is heard of it and written as 22.05 kHz mono; ``places.csv`` beside the words says on
which sample each is felt to begin, which is the rise of its vowel. A language is a folder; files are named after the
English words, so that a further language needs a table here, or recordings under these names.

The synthesiser is free software under the GNU General Public License, version 3 or later. That licence covers the
program; what a covered program puts out is covered only if it is itself a copy of parts of the program (section 2 of
the licence), which spoken words are not. The words made here stand under this project's own licence.
"""

import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import soundfile

from tempo_coach.observe.sound.detector import find_vowel

#: Words a minute and pitch (0 to 99): short enough for 140 counts a minute, high enough to stand out of music.
PACE, PITCH = 185, 62
#: Share of the loudest sample below which a word has not begun or is over, and seconds of fade at its ends.
QUIET, FADE = 0.01, 0.004
PEAK = 0.9
_ORDINALS_EN = ("first", "second", "third", "fourth")
_ORDINALS_DE = ("erster", "zweiter", "dritter", "vierter")
ENGLISH = ("one", "two", "three", "four", "five", "six", "seven", "eight")
GERMAN = ("eins", "zwei", "drei", "vier", "fünf", "sechs", "sieben", "acht")
#: Voice of the synthesiser, and what it says for each word.
LANGUAGES = {
    "en": (
        "en-us",
        {word: word for word in (*ENGLISH, "even", "early", "late", "left", "right", "steadier", "again")}
        | {f"{word} circle": f"{word} circle" for word in _ORDINALS_EN},
    ),
    "de": (
        "de",
        dict(zip(ENGLISH, GERMAN, strict=True))
        | {"even": "gleichmäßig", "early": "früh", "late": "spät", "left": "links", "right": "rechts"}
        | {"steadier": "ruhiger", "again": "noch einmal"}
        | {f"{word} circle": f"{said} Kreis" for word, said in zip(_ORDINALS_EN, _ORDINALS_DE, strict=True)},
    ),
}


def say(voice: str, words: str) -> tuple[np.ndarray, int]:
    """Return what the synthesiser says, shape (n,), and its samples a second."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "word.wav"
        subprocess.run(["espeak-ng", "-v", voice, "-s", str(PACE), "-p", str(PITCH), "-w", path, words], check=True)
        samples, rate_hz = soundfile.read(path)
    return samples, int(rate_hz)


def trim(samples: np.ndarray, rate_hz: int) -> np.ndarray:
    """Return a word without the silence around it, with short fades, at its full height."""
    heard = np.flatnonzero(np.abs(samples) > QUIET * np.abs(samples).max())
    room = round(FADE * rate_hz)
    word = samples[max(heard[0] - room, 0) : heard[-1] + room + 1].copy()
    word[:room] *= np.linspace(0, 1, room)
    word[-room:] *= np.linspace(1, 0, room)
    return PEAK * word / np.abs(word).max()


def make_language(folder: Path, language: str) -> None:
    """Write the words of one language and their table."""
    voice, words = LANGUAGES[language]
    folder.mkdir(parents=True, exist_ok=True)
    rows = ["word,sample"]
    for word, said in words.items():
        samples, rate_hz = say(voice, said)
        samples = trim(samples, rate_hz)
        soundfile.write(folder / f"{word.replace(' ', '_')}.ogg", samples, rate_hz, format="OGG", subtype="VORBIS")
        rows.append(f"{word},{find_vowel(samples, rate_hz)}")
    (folder / "places.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")


if __name__ == "__main__":
    into = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "voice"
    for each in LANGUAGES:
        make_language(into / each, each)

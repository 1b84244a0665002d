"""Make the spoken words: ``python sounds/make_voice.py [FOLDER]``; it needs ``espeak-ng`` (Debian: apt install).

Each word is trimmed to what is heard of it and written as 22.05 kHz mono; ``places.csv`` beside the words says on
which sample each is felt to begin, which is the rise of its vowel. A language is a folder; files are named after the
English words, so that a further language needs a line here, or recordings under these names.

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
#: What is said, in this order; a language says it in its own words, in the same order.
SAID = (
    *("one", "two", "three", "four", "five", "six", "seven", "eight"),
    *("even", "early", "late", "left", "right", "steadier", "again"),
    *(f"{word} circle" for word in ("first", "second", "third", "fourth")),
)
#: Voice of the synthesiser, and what it says for each word, separated by commas. A circle is a turn in Italian, where
#: the word for circle is that of the hoop.
LANGUAGES = {
    "en": ("en-us", ", ".join(SAID)),
    "de": (
        "de",
        (
            "eins, zwei, drei, vier, fünf, sechs, sieben, acht, gleichmäßig, früh, spät, links, rechts, ruhiger, "
            "noch einmal, erster Kreis, zweiter Kreis, dritter Kreis, vierter Kreis"
        ),
    ),
    "it": (
        "it",
        (
            "uno, due, tre, quattro, cinque, sei, sette, otto, regolare, presto, tardi, sinistra, destra, "
            "più regolare, ancora, primo giro, secondo giro, terzo giro, quarto giro"
        ),
    ),
    "es": (
        "es",
        (
            "uno, dos, tres, cuatro, cinco, seis, siete, ocho, regular, antes, tarde, izquierda, derecha, más regular, "
            "otra vez, primer círculo, segundo círculo, tercer círculo, cuarto círculo"
        ),
    ),
    "fr": (
        "fr",
        (
            "un, deux, trois, quatre, cinq, six, sept, huit, régulier, tôt, tard, gauche, droite, plus régulier, "
            "encore, premier cercle, deuxième cercle, troisième cercle, quatrième cercle"
        ),
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
    for word, said in zip(SAID, words.split(", "), strict=True):
        samples, rate_hz = say(voice, said)
        samples = trim(samples, rate_hz)
        soundfile.write(folder / f"{word.replace(' ', '_')}.ogg", samples, rate_hz, format="OGG", subtype="VORBIS")
        rows.append(f"{word},{find_vowel(samples, rate_hz)}")
    (folder / "places.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")


if __name__ == "__main__":
    into = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "voice"
    for each in LANGUAGES:
        make_language(into / each, each)

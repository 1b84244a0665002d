"""The list of the development set, and the one call that makes what is missing of it."""

from __future__ import annotations

import os
import tempfile
import zlib
from pathlib import Path

import numpy as np

from tests.benchmarks.beat_set import kinds
from tests.benchmarks.beat_set.played import HEARD_AFTER, play
from tests.benchmarks.beat_set.rendered import HELD_OUT, Piece, render
from tests.benchmarks.beat_set.written import make_up, read_written

PIANO, HARPSICHORD, GUITAR, ORGAN, ACCORDION = 0, 6, 24, 19, 21
VIOLIN, CELLO, STRINGS, HARP, PIZZICATO, CHOIR = 40, 42, 48, 46, 45, 52
TRUMPET, BRASS, FLUTE, CLARINET, OBOE, BASS, LEAD, PAD, OVERDRIVE = 56, 61, 73, 71, 68, 33, 80, 89, 29

_QUARTET = [VIOLIN, VIOLIN, 41, CELLO]
_BAND = [BASS, GUITAR, LEAD]

#: Kind, source (a corpus name, or "made up METRE"), instruments, tempo, how it bends, drums, pauses, looseness (s).
LIST: list[tuple[str, str, list[int], float, str, str | None, int, float]] = [
    ("drums", "made up 4", _BAND, 124, "steady", "rock", 0, 0.004),
    ("drums", "made up 4", [38, 4, 81], 96, "steady", "push", 0, 0.004),
    ("drums", "made up 4", [BASS, PAD, LEAD], 132, "steady", "disco", 0, 0.0),
    ("drums", "made up 4", [BASS, OVERDRIVE, OVERDRIVE], 152, "drift", "rock", 0, 0.006),
    ("drums", "made up 3", [32, PIANO, FLUTE], 140, "drift", "soft", 0, 0.008),
    ("drums", "made up 4", [BASS, BRASS, TRUMPET], 84, "drift", "push", 0, 0.006),
    ("drums", "made up 4", [BASS, STRINGS, CHOIR], 72, "steady", "rock", 0, 0.004),
    ("drums", "made up 3", [BASS, GUITAR, ACCORDION], 176, "steady", "rock", 0, 0.006),
    ("drums", "bach/bwv66.6", [STRINGS], 108, "drift", "soft", 0, 0.006),
    ("drums", "ryansMammoth/PicnicReel", [VIOLIN], 112, "drift", "rock", 0, 0.006),
    ("strings", "bach/bwv297", [STRINGS], 76, "rubato", None, 0, 0.01),
    ("strings", "bach/bwv360", [STRINGS, CHOIR], 92, "drift", None, 0, 0.01),
    ("strings", "haydn/opus74no1/movement3", _QUARTET, 150, "drift", None, 0, 0.012),
    ("strings", "haydn/opus1no1/movement2", _QUARTET, 126, "rubato", None, 0, 0.012),
    ("strings", "mozart/k155/movement2", _QUARTET, 60, "rubato", None, 0, 0.012),
    ("strings", "mozart/k80/movement2", _QUARTET, 132, "drift", None, 0, 0.012),
    ("strings", "beethoven/opus18no4", _QUARTET, 138, "drift", None, 0, 0.012),
    ("strings", "corelli/opus3no1/1grave", [VIOLIN, VIOLIN, CELLO, ORGAN], 54, "drift", None, 0, 0.012),
    ("strings", "made up 4", [CELLO, STRINGS, VIOLIN], 88, "rubato", None, 0, 0.015),
    ("strings", "made up 3", [CELLO, PAD, CHOIR], 104, "drift", None, 0, 0.015),
    ("piano", "mozart/k545/movement1_exposition", [PIANO], 126, "rubato", None, 0, 0.008),
    ("piano", "chopin/mazurka06-2", [PIANO], 132, "free", None, 0, 0.012),
    ("piano", "joplin/maple_leaf_rag", [PIANO], 92, "drift", None, 0, 0.006),
    ("piano", "schumann_clara/polonaise_op1n3", [PIANO], 96, "free", None, 0, 0.012),
    ("piano", "bach/bwv333", [PIANO], 80, "free", None, 0, 0.014),
    ("piano", "made up 4", [PIANO], 100, "rubato", None, 0, 0.01),
    ("piano", "made up 3", [PIANO], 138, "free", None, 0, 0.012),
    ("piano", "made up 4", [PIANO], 72, "free", None, 0, 0.012),
    ("piano", "schubert/Lindenbaum", [FLUTE, PIANO, PIANO], 66, "rubato", None, 0, 0.01),
    ("piano", "schumann_robert/opus48no2", [OBOE, PIANO, PIANO], 60, "free", None, 0, 0.012),
    ("tempo", "made up 4", _BAND, 112, "ramp", "rock", 0, 0.005),
    ("tempo", "made up 4", [BASS, PIANO, FLUTE], 104, "step", None, 0, 0.008),
    ("tempo", "made up 3", [CELLO, HARP, VIOLIN], 132, "ramp", None, 0, 0.01),
    ("tempo", "ryansMammoth/LanigansBallJig", [FLUTE], 116, "ramp", None, 0, 0.01),
    ("tempo", "ryansMammoth/OlympicHornpipe", [VIOLIN], 100, "step", "soft", 0, 0.006),
    ("tempo", "bach/bwv104.6", [BRASS], 88, "step", None, 0, 0.01),
    ("tempo", "mozart/k458/movement1", _QUARTET, 128, "ramp", None, 0, 0.012),
    ("tempo", "made up 4", [38, 4, 81], 126, "step", "disco", 0, 0.0),
    ("tempo", "schumann_robert/opus41no1/movement2", _QUARTET, 108, "step", None, 0, 0.01),
    ("tempo", "verdi/laDonnaEMobile", [TRUMPET, PIANO, STRINGS], 138, "ramp", None, 0, 0.01),
    ("pauses", "made up 4", _BAND, 116, "steady", "rock", 3, 0.005),
    ("pauses", "made up 4", [CELLO, STRINGS, VIOLIN], 92, "drift", None, 3, 0.012),
    ("pauses", "bach/bwv429", [ORGAN], 84, "drift", None, 3, 0.008),
    ("pauses", "made up 3", [PIANO], 126, "rubato", None, 3, 0.01),
    ("pauses", "haydn/opus1no1/movement4", _QUARTET, 104, "drift", None, 3, 0.012),
    ("pauses", "oneills1850/0001-0050#12", [GUITAR], 108, "drift", None, 3, 0.008),
    ("pauses", "made up 4", [BASS, PAD, LEAD], 128, "steady", "disco", 2, 0.0),
    ("pauses", "handel/rinaldo/Lascia_chio_pianga", [STRINGS], 88, "rubato", None, 2, 0.012),
    ("others", "oneills1850/0001-0050#20", [ACCORDION], 112, "drift", None, 0, 0.008),
    ("others", "ryansMammoth/MollShurkiesJig", [HARPSICHORD], 120, "steady", None, 0, 0.008),
    ("others", "airdsAirs/book1#30", [GUITAR], 100, "drift", None, 0, 0.01),
    ("others", "bach/bwv64.2", [ORGAN], 96, "steady", None, 0, 0.004),
    ("others", "made up 4", [CELLO, HARP, FLUTE], 82, "drift", None, 0, 0.01),
    ("others", "made up 4", [PIZZICATO, PIZZICATO, CLARINET], 120, "drift", None, 0, 0.01),
    ("others", "made up 3", [BASS, ACCORDION, ACCORDION], 168, "steady", None, 0, 0.008),
    ("others", "bach/bwv153.1", [GUITAR, GUITAR, BASS, BASS], 110, "drift", None, 0, 0.01),
]  # fmt: skip

SECONDS = 70


def cache_folder() -> Path:
    """Return where rendered music is kept between runs."""
    return Path(os.environ.get("BEAT_SET_CACHE") or Path(tempfile.gettempdir()) / "beat_set")


def make_set(*, only: str | None = None) -> list[Piece]:
    """Return the pieces of the set, made where they are not yet there (some minutes the first time)."""
    return [_make(number, row) for number, row in enumerate(LIST) if only in (None, row[0])]


def _make(number: int, row: tuple[str, str, list[int], float, str, str | None, int, float]) -> Piece:
    kind, source, programs, bpm, tempo, drums, pauses, loose = row
    cache = cache_folder()
    name = f"{number:02d}-{kind}-{zlib.crc32(repr((row, HEARD_AFTER)).encode()):08x}"
    sound, truth = cache / f"{name}.flac", cache / f"{name}.npz"
    if not (sound.exists() and truth.exists()):
        cache.mkdir(parents=True, exist_ok=True)
        rng = np.random.default_rng(number)
        made_up = source.startswith("made up")
        written = make_up(number, meter=int(source[-1]), bars=16) if made_up else read_written(source, cache)
        played = play(
            written, programs, bpm=bpm, tempo=tempo, seconds=SECONDS, rng=rng, drums=drums, pauses=pauses, loose=loose
        )
        render(played, sound)
        np.savez(truth, beats=played.beats, ones=played.ones, pauses=np.reshape(played.pauses, (-1, 2)))
    with np.load(truth) as known:
        none = np.zeros(0)
        return Piece(name, kind, sound, known["beats"], known["ones"], known["pauses"], kind != "strings", none)


#: Seeds of the further kinds: the first is developed on, the second is kept for judging.
DEVELOPING, JUDGING = 1, 2


def make_kinds(seed: int, *, each: int = 3, exact: bool = False) -> list[Piece]:
    """Return pieces of the further kinds for a seed, made where they are not yet there; if asked, played exactly."""
    return [_make_kind(kind, 100 * seed + number, exact=exact) for kind in kinds.SKETCHES for number in range(each)]


def _make_kind(kind: str, seed: int, *, exact: bool) -> Piece:
    cache = cache_folder()
    name = f"{kind}-{seed}" + ("-exact" if exact else "")
    sound, truth = cache / f"{name}.flac", cache / f"{name}.npz"
    if not (sound.exists() and truth.exists()):
        import soundfile

        cache.mkdir(parents=True, exist_ok=True)
        played, eights = kinds.perform(kind, seed, cache, exact=exact)
        render(played, sound, fonts=HELD_OUT)
        samples, rate_hz = soundfile.read(sound)
        heard, true, eights = kinds.spoil(kind, seed, samples.mean(axis=1), rate_hz, played, eights)
        soundfile.write(sound, heard, rate_hz)
        np.savez(truth, beats=true.beats, ones=true.ones, pauses=np.zeros((0, 2)), eights=eights)
    with np.load(truth) as known:
        return Piece(
            name,
            kind,
            sound,
            known["beats"],
            known["ones"],
            known["pauses"],
            kind not in ("strings", "singing"),
            known["eights"],
        )

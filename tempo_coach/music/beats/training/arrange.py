"""Old tunes and chorales set for instruments, with chords, bass and drums added to single tunes."""

from __future__ import annotations

import numpy as np

from tempo_coach.music.beats.training.compose import MAJOR, Composer, Piece
from tempo_coach.music.beats.training.styles import BANDS, STYLES


def arrange(rng: np.random.Generator, score: dict[str, object], *, beats: int) -> Piece:
    """Set an old tune or chorale for instruments, repeated until it is that many beats long."""
    n, split = int(score["beats_per_bar"]), int(score["split"])  # type: ignore[call-overload]
    notes: list[list[float]] = score["notes"]  # type: ignore[assignment]
    parts = int(score["parts"])  # type: ignore[call-overload]
    tempo = {"3/4": (84.0, 168.0), "6/8": (70.0, 132.0), "3/8": (60.0, 110.0), "4/4": (72.0, 160.0)}.get(
        str(score["meter"]), (66.0, 132.0)
    )
    if parts > 1:
        tempo = (56.0, 116.0)
    piece = Piece(n, split, beats, tempo, 0.35 if parts == 1 else 0.6, kind="score")
    family = BANDS[
        str(
            rng.choice(
                ["folk", "strings", "piano", "orchestra", "brass", "bells", "pop"],
                p=[0.28, 0.2, 0.2, 0.14, 0.08, 0.04, 0.06],
            )
        )
    ]
    piece.piano = family is BANDS["piano"]

    def role(name: str) -> int:
        return int(rng.choice(family[name]))

    one = role("melody")
    for number in range(min(parts, 6)):
        low = np.median([x[2] for x in notes if x[3] == number] or [60]) < 52
        piece.add_part(
            one if rng.random() < 0.6 and not low else role("bass" if low else "melody"), rng.uniform(0.7, 1.1)
        )
    shift = int(rng.integers(-5, 6))
    whole = int(np.ceil(max(x[0] + x[1] for x in notes) / n - 0.01)) * n
    if parts == 1 and n in {2, 4} and whole % 16 == 0:
        piece.eight = 8
    accents = rng.uniform(0, 16)
    for again in range(0, beats, max(whole, n)):
        for start, length, pitch, part in notes:
            at = again + start
            if 0 <= at < beats and part < 6:
                loud = 76 + (accents if at % n < 0.01 else 0) + rng.normal(0, 7)
                piece.notes.append((at, length * 0.95, int(pitch) + shift, int(np.clip(loud, 20, 120)), int(part)))
    if parts == 1:
        accompany(rng, piece, family)
    return piece


def accompany(rng: np.random.Generator, piece: Piece, family: dict[str, tuple[int, ...]]) -> None:
    """Give a single tune chords, bass and drums, or some of them, or nothing."""
    n, split = piece.beats, piece.split
    fitting = [s for s in STYLES.values() if s.beats == n and s.split in {split, 2 if split == 4 else split}]
    style = fitting[int(rng.integers(len(fitting)))] if fitting else None
    if style is None or rng.random() < 0.3:
        return
    bass, comp = (
        piece.add_part(int(rng.choice(family["bass"])), rng.uniform(0.6, 1.0)),
        piece.add_part(int(rng.choice(family["comp"])), rng.uniform(0.4, 0.8)),
    )
    helper = Composer(rng, style, piece.length // n, "score")
    helper.accents = (rng.uniform(0, 15), 3.0)
    helper.seventh = False
    classes = np.bincount([x[2] % 12 for x in piece.notes], minlength=12)
    helper.key = int(np.argmax([sum(classes[(k + s) % 12] for s in MAJOR) for k in range(12)])) - 6
    helper.key, helper.scale, helper.piece = (helper.key + 6) % 12 - 6, MAJOR, piece
    lines = str(rng.choice(style.bass)), str(rng.choice(style.comp))
    drums = style.drums[int(rng.integers(len(style.drums)))] if style.drums and rng.random() < 0.4 else {}
    by_bar: dict[int, np.ndarray] = {}
    for at, length, pitch, _, _ in piece.notes:
        by_bar.setdefault(int(at // n), np.zeros(12))[pitch % 12] += length
    use_bass, use_comp = rng.random() < 0.8, rng.random() < 0.8
    for number in range(piece.length // n):
        weights = by_bar.get(number, np.zeros(12))
        degree = int(
            np.argmax(
                [
                    sum(weights[(helper.key + MAJOR[(d + t) % 7]) % 12] for t in (0, 2, 4))
                    + (0.1 if d in {0, 3, 4} else 0)
                    for d in range(7)
                ]
            )
        )
        if use_bass:
            helper.write_bass(bass, float(number * n), lines[0], degree, 74)
        if use_comp:
            helper.write_comp(comp, float(number * n), lines[1], degree, 66, True)
        if drums:
            helper.write_drums(float(number * n), drums, 0.8, number % 8 == 7, number % 8 == 0)

"""Music made up by rule: chords, bass, accompaniment, melodies and drums of some thirty styles, in beats."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from tempo_coach.music.beats.training.styles import BANDS, STYLES, Style

MAJOR = (0, 2, 4, 5, 7, 9, 11)
MINOR = (0, 2, 3, 5, 7, 8, 10)
PROGRESSIONS = (
    (0, 4, 5, 3), (0, 5, 3, 4), (5, 3, 0, 4), (0, 3, 4, 0), (0, 3, 0, 4), (1, 4, 0, 0), (0, 5, 1, 4), (0, 0, 3, 3),
    (0, 6, 5, 4), (0, 2, 3, 4), (0, 4, 0, 4), (3, 0, 4, 0), (0, 3, 6, 2, 5, 1, 4, 0), (0, 4, 5, 2, 3, 0, 3, 4),
    (0, 0, 0, 0, 3, 3, 0, 0, 4, 3, 0, 4), (0, 0, 4, 4, 4, 4, 0, 0), (0, 0, 3, 0, 0, 0, 4, 0), (0,), (0, 6), (0, 3),
)  # fmt: skip
PITCHES = {"bass": (31, 50), "comp": (50, 70), "pad": (52, 72), "melody": (60, 86), "low": (48, 67)}


@dataclass
class Piece:
    """Music in beats: beat 0 is a one; every note is (start, length, pitch, velocity, part).

    `eight` is the number of beats from the start of one count of eight (in three: of four bars) to the next, counted
    from beat 0, and 0 where it is not known; without `has_ones` nothing tells the bar.
    """

    beats: int
    split: int
    length: int
    tempo: tuple[float, float]
    free: float
    swing: float = 0.5
    programs: list[int] = field(default_factory=list)
    gains: list[float] = field(default_factory=list)
    notes: list[tuple[float, float, int, int, int]] = field(default_factory=list)
    hits: list[tuple[float, str, float]] = field(default_factory=list)
    kind: str = ""
    piano: bool = False
    eight: int = 0
    has_ones: bool = True

    def add_part(self, program: int, gain: float) -> int:
        """Add an instrument and return its number."""
        self.programs.append(program)
        self.gains.append(gain)
        return len(self.programs) - 1


def pick_style(rng: np.random.Generator) -> str:
    """Choose a style by its weight."""
    names = list(STYLES)
    weights = np.array([STYLES[name].weight for name in names])
    return str(rng.choice(names, p=weights / weights.sum()))


def bend_line(rng: np.random.Generator, line: str, signs: str, amount: float) -> str:
    """Take away or add a stroke here and there, for the whole piece."""
    out = list(line)
    for i, sign in enumerate(out):
        if i and rng.random() < amount:
            out[i] = "." if sign not in ".-" else str(rng.choice(list(signs)))
    return "".join(out)


def draw_line(rng: np.random.Generator, beats: int, split: int, signs: str, density: float) -> str:
    """Draw a line at random; strong places of the bar are more likely."""
    out = []
    for i in range(beats * split):
        weight = (
            1.0 if i == 0 else 0.75 if i % split == 0 else 0.5 if split % 2 == 0 and i % split == split // 2 else 0.3
        )
        out.append(str(rng.choice(list(signs))) if rng.random() < weight * density * 1.6 else ".")
    return "".join(out)


@dataclass(frozen=True)
class Arrangement:
    """What a piece is made of: parts, lines, chords and motifs, and how likely each role plays in a section."""

    parts: dict[str, int]
    bass: list[str]
    comp: list[str]
    drums: list[dict[str, str]]
    songs: list[tuple[int, ...]]
    motifs: list[list[list[tuple[float, float]]]]
    likely: dict[str, float]


class Composer:
    """Writes one piece of a style into `piece`."""

    def __init__(self, rng: np.random.Generator, style: Style, bars: int, kind: str) -> None:
        self.rng, self.style, self.bars = rng, style, bars
        swing = rng.uniform(*style.swing)
        self.piece = Piece(style.beats, style.split, bars * style.beats, style.tempo, style.free, swing, kind=kind)
        self.key = int(rng.integers(-6, 6))
        self.scale = MAJOR if rng.random() < 0.5 else MINOR
        self.band = BANDS[str(rng.choice(style.bands))]
        self.piece.piano = self.band is BANDS["piano"]
        self.piece.eight = 12 if style.beats == 3 else 8
        if style.only_drums:
            self.piece.eight, self.piece.has_ones = 0, False
        self.per_chord = int(rng.choice([1, 1, 1, 2, 4])) if style.beats > 2 else int(rng.choice([1, 2, 2, 4]))
        self.seventh = rng.random() < (0.8 if self.band is BANDS["jazz"] else 0.25)

    def chord(self, degree: int, low: int, high: int) -> list[int]:
        """Return the chord on a degree of the scale, its notes within a range."""
        steps = [degree, degree + 2, degree + 4] + ([degree + 6] if self.seventh else [])
        classes = {(self.key + self.scale[s % 7] + 12) % 12 for s in steps}
        return [p for p in range(low, high) if p % 12 in classes]

    def pitch(self, step: int) -> int:
        """Return the pitch of a step of the scale counted from the key's note at middle C."""
        return 60 + self.key + 12 * (step // 7) + self.scale[step % 7]

    def velocity(self, beat: float, base: float) -> int:
        """Return how hard a note is struck: a little harder on strong beats, by this piece's own accents."""
        inside = beat % self.piece.beats
        accent = self.accents[0] if inside < 0.01 else self.accents[1] if abs(inside - round(inside)) < 0.01 else 0.0
        return int(np.clip(base + accent + self.rng.normal(0, 6), 18, 126))

    def write(self) -> Piece:
        """Write every section and return the piece."""
        rng, piece = self.rng, self.piece
        self.accents = (rng.uniform(0, 18), rng.uniform(-2, 8))
        plan = self.draw_plan()
        section = 4 if rng.random() < 0.3 else 8
        drums_p = rng.choice([0.6, 0.9, 1.0])
        for bar in range(0, self.bars, section):
            which = int(rng.random() < 0.4)
            roles = {role for role, p in plan.likely.items() if rng.random() < p}
            if self.style.only_drums:
                roles = set()
            elif not roles & {"bass", "comp", "melody", "pad"}:
                roles |= {"melody"} if self.style.solo else {"comp", "melody"}
            loud = rng.uniform(58, 100)
            beaten = bool(plan.drums) and (self.style.only_drums or rng.random() < drums_p)
            self.write_section(plan, bar, min(bar + section, self.bars), which, roles, loud, beaten)
        return piece

    def draw_plan(self) -> Arrangement:
        """Draw the instruments, the lines of each role, the chords and the motifs of the piece."""
        rng, style, piece = self.rng, self.style, self.piece
        spans = {"bass": (0.7, 1.2), "comp": (0.5, 1.0), "pad": (0.3, 0.9), "melody": (0.6, 1.2)}
        parts = {
            role: piece.add_part(int(rng.choice(self.band[role])), rng.uniform(*span)) for role, span in spans.items()
        }
        parts["second"] = piece.add_part(int(rng.choice(self.band["melody"])), rng.uniform(0.4, 0.9))
        bend = float(rng.choice([0.0, 0.04, 0.12]))
        at_random = rng.random() < 0.15

        def choose(lines: tuple[str, ...], signs: str) -> str:
            if at_random:
                return draw_line(rng, style.beats, style.split, signs, rng.uniform(0.25, 0.6))
            return bend_line(rng, str(rng.choice(lines)), signs, bend)

        bass = [choose(style.bass, "R5-") for _ in range(2)]
        comp = [choose(style.comp, "xxha") for _ in range(2)]
        drums = self.draw_drums(bend, at_random=at_random)
        songs = [self.draw_song() for _ in range(2)]
        motifs = [self.draw_motif() for _ in range(3)]
        likely = {"bass": 0.88, "comp": 0.85, "pad": 0.3, "melody": 0.75, "second": 0.15}
        if piece.piano:
            likely.update(pad=0.0, second=0.1)
        if style.solo:
            likely.update(bass=0.0, comp=0.0, pad=0.0, melody=1.0, second=0.15)
        elif rng.random() < 0.08:
            likely.update(comp=0.2, melody=0.2, pad=0.1, bass=0.3)
        return Arrangement(parts, bass, comp, drums, songs, motifs, likely)

    def draw_drums(self, bend: float, *, at_random: bool) -> list[dict[str, str]]:
        """Draw two bars of drums, or none."""
        rng, style = self.rng, self.style
        drums: list[dict[str, str]] = []
        if style.drums and (style.only_drums or rng.random() < 0.88):
            for _ in range(2):
                lines = dict(style.drums[int(rng.integers(len(style.drums)))])
                amount = 0.0 if style.only_drums else bend * 0.6
                drums.append({k: bend_line(rng, v, "xo?", amount) for k, v in lines.items()})
        if at_random and drums and not style.only_drums:
            names = rng.choice(
                ["kick", "snare", "hat", "tom", "conga", "rim", "shaker", "taiko", "clap", "cow"], 3, replace=False
            )
            drums = [
                {str(k): draw_line(rng, style.beats, style.split, "xo", rng.uniform(0.2, 0.7)) for k in names}
                for _ in range(2)
            ]
        return drums

    def draw_song(self) -> tuple[int, ...]:
        """Draw the chords of a section, as degrees of the scale."""
        if self.rng.random() < 0.1:
            return tuple(self.rng.choice(np.arange(7), 4))
        return PROGRESSIONS[int(self.rng.integers(len(PROGRESSIONS)))]

    def write_section(
        self, plan: Arrangement, bar: int, end: int, which: int, roles: set[str], loud: float, beaten: bool
    ) -> None:
        """Write some bars with the roles that play in them."""
        n, song = self.style.beats, plan.songs[which]
        for number in range(bar, end):
            degree = int(song[(number // self.per_chord) % len(song)])
            at = float(number * n)
            if "bass" in roles:
                self.write_bass(plan.parts["bass"], at, plan.bass[which], degree, loud)
            if "comp" in roles:
                self.write_comp(plan.parts["comp"], at, plan.comp[which], degree, loud - 8, "melody" in roles)
            if "pad" in roles and number % self.per_chord == 0:
                length = n * min(self.per_chord, end - number) - 0.05
                for p in self.chord(degree, *PITCHES["pad"])[:3]:
                    self.piece.notes.append((at, length, p, self.velocity(at, loud - 15), plan.parts["pad"]))
            if beaten:
                fill = number == end - 1 and not self.style.only_drums and self.rng.random() < 0.5
                lines = plan.drums[min(which, len(plan.drums) - 1)]
                self.write_drums(at, lines, loud / 90, fill, number == bar)
        for role, motif in (("melody", which), ("second", 2)):
            if role in roles:
                self.write_melody(plan.parts[role], bar, end, song, plan.motifs[motif], loud + 4)

    def write_bass(self, part: int, at: float, line: str, degree: int, loud: float) -> None:
        """Write one bar of bass."""
        low = 36 + (self.key + self.scale[degree % 7]) % 12 - (12 if self.key > 2 else 0)
        for i, sign in enumerate(line):
            if sign in ".-o":
                continue
            length = next((j for j in range(i + 1, len(line)) if line[j] != "-"), len(line)) - i
            pitch = low + {
                "R": 0,
                "5": 7,
                "3": 4 if self.scale is MAJOR else 3,
                "8": 12,
                "w": int(self.rng.choice([2, 4, 5, 7, -1, -3])),
            }.get(sign, 0)
            start = at + i / self.style.split
            self.piece.notes.append(
                (start, length / self.style.split * 0.95, max(pitch, 28), self.velocity(start, loud + 4), part)
            )

    def write_comp(self, part: int, at: float, line: str, degree: int, loud: float, low: bool) -> None:
        """Write one bar of accompaniment."""
        tones = self.chord(degree, *(PITCHES["low"] if low else PITCHES["comp"]))
        split = self.style.split
        broken = 0
        for i, sign in enumerate(line):
            if sign in ".-":
                continue
            start = at + i / split
            if sign == "a":
                order = tones[:5] + tones[3:0:-1]
                self.piece.notes.append(
                    (start, 2.0 / split, order[broken % len(order)], self.velocity(start, loud), part)
                )
                broken += 1
            elif sign == "b":
                self.piece.notes.append((start, 1.0 / split, tones[0], self.velocity(start, loud), part))
            else:
                length = (
                    next((j for j in range(i + 1, len(line)) if line[j] not in ".-"), len(line)) - i
                    if sign == "h"
                    else 0.8
                )
                for p in tones[: 4 if self.seventh else 3]:
                    self.piece.notes.append(
                        (
                            start,
                            length / split * 0.95,
                            p,
                            self.velocity(start, loud + (8 if sign == "X" else -8 if sign == "o" else 0)),
                            part,
                        )
                    )

    def draw_motif(self) -> list[list[tuple[float, float]]]:
        """Draw the rhythm of two bars: starts and lengths in beats, by how strong each place of the bar is."""
        rng, style = self.rng, self.style
        density = rng.uniform(*style.density)
        syncopated = rng.uniform(0.0, 1.0) ** 2
        grid = style.split if rng.random() < 0.5 or style.split == 3 else max(style.split // 2, 1)
        bars = []
        for _ in range(2):
            starts = []
            for i in range(style.beats * grid):
                strong = 1.0 if i == 0 else 0.85 if i % grid == 0 else 0.45 if grid == 4 and i % 4 == 2 else 0.3
                strong = strong * (1 - 0.6 * syncopated) + 0.45 * syncopated * (i % grid != 0)
                if rng.random() < np.clip(strong * density * 1.9, 0, 0.97):
                    starts.append(i / grid)
            ends = [*starts[1:], float(style.beats)][: len(starts)]
            bars.append(
                [(a, (b - a) * (0.95 if rng.random() < 0.8 else 0.5)) for a, b in zip(starts, ends, strict=True)]
            )
        return bars

    def write_melody(
        self, part: int, bar: int, end: int, song: tuple[int, ...], motif: list[list[tuple[float, float]]], loud: float
    ) -> None:
        """Write a melody over some bars: steps mostly, notes of the chord on strong beats, silence now and then."""
        rng = self.rng
        step = int(rng.integers(0, 9))
        low, high = (-1, 14) if rng.random() < 0.7 else (4, 18)
        pickup = rng.random() < 0.3
        for number in range(bar, end):
            if rng.random() < 0.08:
                continue
            degree = int(song[(number // self.per_chord) % len(song)])
            rhythm = motif[number % 2] if rng.random() < 0.8 else self.draw_motif()[0]
            if number == end - 1 and rng.random() < 0.4:
                rhythm = [(0.0, self.piece.beats * 0.8)]
            for start, length in rhythm:
                step += int(rng.choice([-3, -2, -1, -1, 0, 1, 1, 2, 3]))
                if start == 0.0 and rng.random() < 0.7:
                    step = min(
                        (7 * o + degree + t for o in range(-1, 4) for t in (0, 2, 4)), key=lambda s: abs(s - step)
                    )
                step = int(np.clip(step, low, high))
                at = number * self.piece.beats + start
                self.piece.notes.append(
                    (at, length, int(np.clip(self.pitch(step), 48, 96)), self.velocity(at, loud), part)
                )
            if pickup and number + 1 < end and rng.random() < 0.5:
                at = (number + 1) * self.piece.beats - 1.0 / max(self.style.split // 2, 1)
                self.piece.notes.append((at, 0.4, self.pitch(step), self.velocity(at, loud - 5), part))

    def write_drums(self, at: float, lines: dict[str, str], loud: float, fill: bool, first: bool) -> None:
        """Write one bar of drums, its end filled or broken off now and then."""
        rng, split, n = self.rng, self.style.split, self.style.beats
        stop = n * split - (split * int(rng.integers(1, 3)) if fill else 0)
        for name, line in lines.items():
            for i, sign in enumerate(line[:stop]):
                if sign == "x" or (sign == "o") or (sign == "?" and rng.random() < 0.35):
                    self.piece.hits.append(
                        (
                            at + i / split,
                            name,
                            float(np.clip(loud * (0.55 if sign != "x" else 1.0) * rng.normal(1, 0.08), 0.1, 1.3)),
                        )
                    )
        if fill and rng.random() < 0.75:
            for i in range(stop, n * split):
                if rng.random() < 0.8:
                    self.piece.hits.append(
                        (
                            at + i / split,
                            str(rng.choice(["snare", "tom", "tom", "lowtom"])),
                            loud * rng.uniform(0.6, 1.0),
                        )
                    )
        if first and not self.style.only_drums and rng.random() < 0.5:
            self.piece.hits.append((at, "crash", loud * 0.8))


def compose(rng: np.random.Generator, *, bars: int, name: str | None = None) -> Piece:
    """Make up a piece of that many bars, in a style drawn by its weight unless one is named."""
    name = name or pick_style(rng)
    return Composer(rng, STYLES[name], bars, name).write()

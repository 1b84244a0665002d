"""Cut music in words and as values: its joints, its length, its loudness."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.music.cutting.joints import TEMPO_STEP
from tempo_coach.report.words.amounts import say_clock
from tempo_coach.report.words.rules import CHECK_THE_CODE, KINDS

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.music.cutting.joints import Joint
    from tempo_coach.music.cutting.musical_key import MusicalKey
    from tempo_coach.pattern.routine.cut_made import CutMade
    from tempo_coach.pattern.routine.rules import Rule

_TONICS = ("C", "C sharp", "D", "E flat", "E", "F", "F sharp", "G", "A flat", "A", "B flat", "B")

#: A joint without an attack, by whether there is one before it and behind it.
_STRUCK_WORDS = {
    (False, False): "    nothing is struck on either side: listen whether it is in time",
    (False, True): "    nothing is struck before it: listen whether it is in time",
    (True, False): "    nothing is struck behind it: listen whether it is in time",
}


def say_key(key: MusicalKey) -> str:
    """Return a key as musicians say it.

    Examples
    --------
    >>> from tempo_coach.music.cutting.musical_key import MusicalKey
    >>> say_key(MusicalKey(9, True))
    'A minor'
    """
    return tr("{tonic} minor" if key.minor else "{tonic} major", tonic=tr(_TONICS[key.tonic]))


def say_length(seconds: float, rules: Sequence[Rule], kind: str) -> str:
    """Return a length, held against the rules about it.

    Parameters
    ----------
    seconds : float
    rules : sequence of Rule
        Those about the length of an exercise of that kind.
    kind : str
        ``alone`` or ``group``.
    """
    told = say_clock(seconds)
    for rule in rules:
        beyond = rule.beyond(seconds)
        between = tr(
            "{clock} to {clock_2} {kind}",
            clock=say_clock(rule.least),
            clock_2=say_clock(rule.most),
            kind=tr(KINDS[kind]),
        )
        said = tr(
            "{beyond:.1f} s too long" if beyond > 0 else "{beyond:.1f} s too short" if beyond else "in order",
            beyond=abs(beyond),
        )
        told = f"{told} ({tr('{name}: {said}', name=between, said=said)})"
    return told


def say_joint(joint: Joint, at: float, counts: CountMap, step: float) -> list[str]:
    """Return where a joint is and what is to be known about it, a line each.

    Parameters
    ----------
    joint : Joint
    at : float
        Seconds of what was cut.
    counts : CountMap
        Of the whole music.
    step : float
        Share above which a step of tempo is reported.
    """
    left, right = counts.place(joint.left - 1), counts.place(joint.right)
    behind = tr(
        "behind eight {eight} count {count:g} comes eight {eight_2} count {count_2:g}",
        eight=left.eight,
        count=left.count,
        eight_2=right.eight,
        count_2=right.count,
    )
    lines = [tr("  joint at {clock}: {behind}", clock=say_clock(at), behind=behind)]
    moved = [
        tr("{side} {moved:+.0f} ms", side=side, moved=moved * 1000)
        for side, moved in ((tr("before it"), joint.moved_left), (tr("behind it"), joint.moved_right))
        if abs(moved) >= 0.0005
    ]
    if moved:
        lines.append(tr("    moved to what sounds there: {names}", names=", ".join(moved)))
    if not all(joint.heard):
        lines.append(tr(_STRUCK_WORDS[joint.heard]))
    if abs(joint.tempo_step) > step:
        before, after = joint.tempi_bpm
        lines.append(
            tr(
                "    the tempo steps from {before:.0f} to {after:.0f} beats a minute ({tempo_step:+.0%})",
                before=before,
                after=after,
                tempo_step=joint.tempo_step,
            )
        )
    if joint.keys is not None:
        lines.append(
            tr(
                "    the key seems to change from {key} to {key_2}",
                key=say_key(joint.keys[0]),
                key_2=say_key(joint.keys[1]),
            )
        )
    return lines


def say_loudness(loudness_lufs: float, peak_db: float) -> str:
    """Return loudness and true peak as measured."""
    if not math.isfinite(loudness_lufs):
        return tr("  silent")
    return tr(
        "  loudness {loudness_lufs:.1f} LUFS, true peak {peak_db:.1f} dB", loudness_lufs=loudness_lufs, peak_db=peak_db
    )


def format_cut(
    made: CutMade, rules: Sequence[Rule], kind: str, *, written: tuple[str, str | Path] | None = None
) -> str:
    """Return what was cut: its length held against the rules, its joints, its loudness, its files.

    Parameters
    ----------
    made : CutMade
    rules, kind
        As in :func:`say_length`.
    written : (path, path) or None
        Files of the music and of the routine, once they are written.
    """
    cut = made.cut
    lines = [
        tr("{source}: cut to {length}", source=made.source, length=say_length(cut.duration - cut.begin, rules, kind))
    ]
    for joint, at in zip(made.joints, cut.starts[1:], strict=False):
        lines += say_joint(joint, at, made.old, TEMPO_STEP)
    if made.accent is not None:
        lines.append(tr("  ends on the last accent of the whole, at {clock}", clock=say_clock(made.accent)))
    lines.append(say_loudness(made.loudness_lufs, made.peak_db))
    if written is not None:
        lines.append(f"  -> {tr('{out}, and the routine {path}', out=written[0], path=written[1])}")
    return "\n".join([*lines, tr(CHECK_THE_CODE)])


def cut_to_dict(made: CutMade, rules: Sequence[Rule]) -> dict[str, object]:
    """Return what was cut as plain values, its length held against the rules."""
    cut = made.cut
    length = cut.duration - cut.begin
    return {
        "file": str(made.source),
        "duration": cut.duration,
        "beyond_rule": [rule.beyond(length) for rule in rules],
        "pieces": [
            {"from": each.start, "to": each.end, "at": at} for each, at in zip(cut.pieces, cut.starts, strict=False)
        ],
        "joints": [
            {
                "at": at,
                "moved_ms": [1000 * each.moved_left, 1000 * each.moved_right],
                "heard": list(each.heard),
                "tempi_bpm": list(each.tempi_bpm),
                "keys": None if each.keys is None else [say_key(key) for key in each.keys],
            }
            for each, at in zip(made.joints, cut.starts[1:], strict=False)
        ],
        "accent": made.accent,
        "fade": cut.fade,
        "silence": cut.silence,
        "tone": cut.tone,
        "gain_db": cut.gain_db,
        "loudness_lufs": made.loudness_lufs if math.isfinite(made.loudness_lufs) else None,
        "true_peak_db": made.peak_db if math.isfinite(made.peak_db) else None,
    }

"""Music that was heard, in words and as plain values: tempo, beats, counts, pauses, doubtful places."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.report.words.amounts import join_words, say_clock
from tempo_coach.report.words.music_map import map_values, say_map
from tempo_coach.report.words.reasons import say_reason

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.music.counts.heard import Heard
    from tempo_coach.music.counts.music_map import MapRow


def heard_to_dict(heard: Heard, *, rows: Sequence[MapRow] | None = None) -> dict[str, object]:
    """Return what was heard as plain values; with the map of each eight where there are rows."""
    beats, counts = heard.beats, heard.counts
    first = counts.eights[0][0]
    return {
        "file": heard.path,
        "duration": heard.duration,
        "tempo_bpm": beats.tempo_bpm,
        "beats": beats.times.tolist(),
        "bar": beats.bar.tolist(),
        "counts": [round(counts.place(k - first).count) for k in range(beats.times.size)],
        "eights": [list(eight) for eight in counts.eights],
        "confidence": beats.confidence.tolist(),
        "doubtful": [
            {"time": each.time, "end": each.end, "reason": say_reason(each.reason)} for each in beats.doubtful
        ],
    } | ({} if rows is None else {"map": map_values(rows, counts)})


def format_heard(heard: Heard, *, rows: Sequence[MapRow] | None = None) -> str:
    """Return what was heard in words; with the map of each eight where there are rows."""
    beats, counts = heard.beats, heard.counts
    lengths = sorted({length for _, length in counts.eights})
    unit = (
        tr("eights")
        if lengths == [8]
        else tr("rows of {names}", names=join_words(map(str, lengths), "{first} and {second}"))
    )
    lines = [
        tr("{path}: {clock} of music", path=heard.path, clock=say_clock(heard.duration)),
        tr("  tempo          {tempo_bpm:.1f} beats a minute", tempo_bpm=beats.tempo_bpm),
        tr("  beats          {size}, the first at {time:.2f} s", size=beats.times.size, time=beats.times[0]),
        tr(
            "  {unit:<14} {number}, the first count 1 at {seconds_at:.2f} s",
            unit=unit,
            number=len(counts.eights),
            seconds_at=float(counts.seconds_at(0)),
        ),
        (tr("  pauses         {number}", number=len(counts.pauses)) if counts.pauses else tr("  pauses         none"))
        + "".join(
            "\n    " + tr("{clock} to {clock_2}", clock=say_clock(start), clock_2=say_clock(end))
            for start, end in counts.pauses
        ),
        tr("  doubtful       {number}", number=len(beats.doubtful)) if beats.doubtful else tr("  doubtful       none"),
    ]
    for doubt in beats.doubtful:
        place = counts.place(float(counts.counts_at(doubt.time)))
        when = say_clock(doubt.time)
        if doubt.end is not None:
            when = tr("{clock} to {clock_2}", clock=when, clock_2=say_clock(doubt.end))
        where = tr("{clock}  eight {eight} count {count}", clock=when, eight=place.eight, count=int(place.count))
        lines.append(f"    {tr('{name}: {said}', name=where, said=say_reason(doubt.reason))}")
    return "\n".join([*lines, *(say_map(rows, counts) if rows is not None else ())])

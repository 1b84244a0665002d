"""A film that was followed, in words: size, markers and gaps, whether it can be trusted, where its music was."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.report.words.reasons import say_note, say_reason

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.observe.film.film_trace import FilmTrace
    from tempo_coach.observe.sound.alignment import Alignment
    from tempo_coach.reasons import Reason

#: Share of the pictures below which a marker is reported first.
SELDOM = 0.85


def format_film(filmed: FilmTrace) -> str:
    """Return what was followed, a line a marker, with its gaps and notes."""
    film = filmed.film
    lines = [
        tr(
            "{path}: {width} × {height}, {number} pictures followed",
            path=film.path,
            width=film.width,
            height=film.height,
            number=len(filmed.trace.time),
        ),
        sum_up(filmed),
    ]
    for name, colour in zip(filmed.names, filmed.colours, strict=True):
        gaps = filmed.gaps(name)
        longest = max((end - start for start, end in gaps), default=0.0)
        lines.append(
            tr(
                "  {name} ({colour}): seen in {share_seen:.0f} % of the pictures, no gap"
                if not gaps
                else "  {name} ({colour}): seen in {share_seen:.0f} % of the pictures, a gap of {longest:.2f} s"
                if len(gaps) == 1
                else "  {name} ({colour}): seen in {share_seen:.0f} % of the pictures, {number} gaps, the longest "
                "{longest:.2f} s",
                name=tr(name),
                colour=colour.name,
                share_seen=100 * filmed.share_seen(name),
                number=len(gaps),
                longest=longest,
            )
        )
    notes = [say_note(note) for note in filmed.notes if note not in film.notes]
    lines += [f"{sentence[0].upper()}{sentence[1:]}" for sentence in notes]
    return "\n".join(lines)


def film_to_dict(filmed: FilmTrace) -> dict[str, object]:
    """Return what was followed as plain values: the film, its markers with their gaps, notes."""
    film = filmed.film
    return {
        "film": {
            "width": film.width,
            "height": film.height,
            "rate_hz": round(film.rate_hz, 4),
            "slowed": film.slowed,
            "pictures": len(filmed.trace.time),
            "start_s": round(float(filmed.trace.time[0]), 6),
            "end_s": round(float(filmed.trace.time[-1]), 6),
            "has_sound": film.has_sound,
        },
        "markers": [
            {
                "name": name,
                "colour": colour.name,
                "seen": round(filmed.share_seen(name), 4),
                "gaps": [[round(start, 4), round(end, 4)] for start, end in filmed.gaps(name)],
            }
            for name, colour in zip(filmed.names, filmed.colours, strict=True)
        ],
        "notes": [say_reason(note) for note in filmed.notes],
    }


def sum_up(filmed: FilmTrace) -> str:
    """Return in one sentence whether the path can be trusted."""
    seldom = [name for name in filmed.names if filmed.share_seen(name) < SELDOM]
    if seldom:
        shares = ", ".join(
            tr("{name} in {share_seen:.0f} %", name=name, share_seen=100 * filmed.share_seen(name)) for name in seldom
        )
        return tr("Often lost: {shares} of the pictures. Look at the gaps before you trust it.", shares=shares)
    worst = [(name, _longest(filmed.gaps(name))) for name in filmed.names]
    name, (start, end) = max(worst, key=lambda pair: pair[1][1] - pair[1][0])
    if end - start > 0.3:
        return tr(
            "Seen nearly everywhere; the longest gap is {name} from {start:.2f} to {end:.2f} s.",
            name=name,
            start=start,
            end=end,
        )
    return tr("Seen nearly everywhere, with no gap longer than 0.3 s.")


def _longest(gaps: Sequence[tuple[float, float]]) -> tuple[float, float]:
    return max(gaps, key=lambda gap: gap[1] - gap[0], default=(0.0, 0.0))


def say_measured_phone(found: Reason, *, kept: bool) -> str:
    """Return the measured delay of a phone's picture, and whether it is kept for its films."""
    told = say_reason(found)
    where = tr("kept for its phone") if kept else tr("not kept, as the film does not tell its phone")
    return f"{told[0].upper()}{told[1:]}; {where}."


def say_alignment(found: Alignment) -> str:
    """Return in how much of a film its music was heard, and by how much the clocks differ."""
    return tr(
        "The music was heard in {heard:.0f} % of where it was looked for; the clocks differ by {rate_ppm:+.0f} ppm.",
        heard=100 * found.heard,
        rate_ppm=found.rate_ppm,
    )

"""Template of a drill file, from a minimum of information, with comments on what a coach may want to change."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError, nearest
from tempo_coach.languages import tr
from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.pattern.drill.drill_file import APPARATUS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

#: What to beware of with an apparatus, or else.
_CAUTION_WORDS = {
    "clubs": "clear space and a coach before clubs are tried at speed",
    "none": "stop when something hurts",
    "": "keep clear space all round you; stop when something hurts",
}


def read_circles(said: str) -> dict[str, int]:
    """Return circles per phase from one line of text, in order.

    Raises
    ------
    CoachError
        If a phase has no name, comes twice, or its circles are no whole number of 0 to 32; or if there is none at all.

    Examples
    --------
    >>> read_circles("low 1, rise, high 2, fall")
    {'low': 1, 'rise': 0, 'high': 2, 'fall': 0}
    """
    circles: dict[str, int] = {}
    for part in said.split(","):
        words = part.replace("=", " ").split()
        number = words.pop() if words and words[-1].lstrip("+-").replace(".", "").isdigit() else "0"
        name = " ".join(words)
        if not name:
            raise CoachError("circles.unreadable", where="circles", part=part.strip())
        if name in circles:
            raise CoachError("circles.phase_twice", where="circles", phase=name)
        if not number.isdigit() or int(number) > 32:
            raise CoachError("circles.out_of_range", where="circles", phase=name, circles=number)
        circles[name] = int(number)
    if not any(circles.values()):
        raise CoachError("circles.none", where="circles")
    return circles


def write_new_drill(
    *,
    title: str,
    apparatus: str,
    counts: float,
    circles: Mapping[str, int],
    hands: Sequence[str] = ("right",),
    lag: float = 0.0,
) -> str:
    """Return the file of a new drill, with comments.

    Parameters
    ----------
    title : str
    apparatus : str
        One of :data:`tempo_coach.pattern.drill.drill_file.APPARATUS`.
    counts : float
        Length of the cycle.
    circles : mapping of phase name to number
        In order; the phases share the cycle equally until their ends are edited.
    hands : sequence of str
        The first is the reference.
    lag : float
        Counts by which each further hand is behind the one before.

    Raises
    ------
    CoachError
        For whatever a person has to say differently.
    """
    _check(title, apparatus, counts, circles, hands, lag)
    worn = _note("where a phone in a band feels it: forearm, upper arm, ankle; [] for nowhere")
    lines = [
        _note(
            "{title}: a drill of your own. Lines that begin with # are notes; change whatever you like.", title=title
        ),
        f'title = "{title}"',
        f'apparatus = "{apparatus}"  # {", ".join(APPARATUS)}',
        f'trains = "{tr("what it trains, in your words")}"',
        f'caution = "{tr(_CAUTION_WORDS.get(apparatus, _CAUTION_WORDS[""]))}"',
        f'source = "{tr("my own")}"',
        f'# worn_at = ["forearm"]  {worn}',
        "",
        "[practice]",
        f"tempo = 100  {_note('beats a minute, and the slowest and the fastest it is done at')}",
        "slowest = 66",
        "fastest = 132",
        f"cycles = {8 if counts >= 3 else 16}  {_note('how many in a row')}",
        f"lead_in = 8  {_note('counts before the first one')}",
        f'cues = "all"  {_note("all, alternate (every other cycle), ones, none, thinning (these four in turn)")}',
        "",
        "[cycle]",
        f"counts = {counts:g}  {_note('one cycle; one that does not divide the eight runs on over it')}",
        "",
        _note(
            "Phases in order. Counts are as you say them: 1, 2&, 3e, 3a, 1+2/3; a phase ends where the next one begins."
        ),
    ]
    length = counts / len(circles)
    for number, (name, how_many) in enumerate(circles.items()):
        start, end = say_count(number * length), say_count((number + 1) * length)
        lines += ["[[phase]]", f'name = "{name}"', f'start = "{start}"', f'end = "{end}"']
        lines += [f"circles = {how_many}  {_note('spread evenly over the phase')}", ""]
    lines.append(_note("The first hand is the reference; left and right change places with --mirrored."))
    for number, hand in enumerate(hands):
        lines += ["[[hand]]", f'name = "{hand}"', 'plane = "side"', 'direction = "forward"']
        if number:
            lines.append(f"lag = {number * lag:g}  {_note('counts behind the first hand')}")
        lines.append("")
    lines += [
        _note("For a moment that is not the middle of a circle, write it under its hand, without the #:"),
        "# [[hand.moment]]",
        '# at = "2+5/6"',
        f'# label = "{tr("almost up")}"',
        '# kind = "circle"  # circle, contact, release, catch',
        "",
        _note("What goes wrong, and the sentence that helps:"),
        "# [[fault]]",
        f'# fault = "{tr("the second circle comes late")}"',
        f'# say = "{tr("start it while the first one is still finishing")}"',
    ]
    return "\n".join(lines) + "\n"


def _note(form: str, **places: str) -> str:
    """Return a comment, in the language that is spoken."""
    return f"# {tr(form, **places)}"


def _check(
    title: str, apparatus: str, counts: float, circles: Mapping[str, int], hands: Sequence[str], lag: float
) -> None:
    for where, words in (("title", [title]), ("circles", list(circles)), ("hands", list(hands))):
        for word in words:
            if not word.strip() or any(sign in word for sign in '"\\\n\r') or not word.isprintable():
                raise CoachError("drill.no_plain_words", where=where, word=word)
    if apparatus not in APPARATUS:
        raise CoachError(
            "apparatus.unknown",
            where="apparatus",
            known=APPARATUS,
            apparatus=apparatus,
            nearest=nearest(apparatus, list(APPARATUS)),
        )
    if not (math.isfinite(counts) and 0.25 <= counts <= 64):
        raise CoachError("cycle.out_of_range", where="counts", counts=counts)
    if not circles or not any(circles.values()):
        raise CoachError("circles.none", where="circles")
    if not hands or len(set(hands)) < len(hands):
        code = "hand.listed_twice" if hands else "hand.none"
        raise CoachError(code, where="hands", hands=tuple(hands))
    if not (math.isfinite(lag) and abs(lag) * len(hands) <= 64):
        raise CoachError("lag.out_of_range", where="lag", lag_counts=lag)

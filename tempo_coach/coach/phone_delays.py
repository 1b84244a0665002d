"""Delays between the sound and the picture of phones' films: measured once, kept by make and model."""

from __future__ import annotations

import json
import math
import tomllib
from typing import TYPE_CHECKING, NamedTuple

from tempo_coach.errors import CoachError
from tempo_coach.history.data_folder import data_folder
from tempo_coach.reasons import Reason, Why
from tempo_coach.resources import read_text, written_whole

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tempo_coach.observe.film.frames import Film
    from tempo_coach.observe.sound.alignment import Alignment
    from tempo_coach.reasons import Warn

#: The file of the delays.
FILE_NAME = "phones.toml"
_HEAD = """\
# By how much the picture of each phone's films comes behind their sound, as film --clap-seen measured it.
# Take a phone out, and its films are taken as they are.
"""
#: Longest delay that is believed of a file that somebody wrote, in ms.
_MOST_MS = 1000.0


class PhoneDelay(NamedTuple):
    """Delay of a phone's picture behind its sound, and its standard error, in seconds."""

    delay: float
    error: float

    def reason_of(self, phone: str) -> Reason:
        """Return the delay as a note on a film of that phone."""
        return Reason(Why.PHONE_DELAY, (1000 * self.delay, 1000 * self.error, phone))


def measure_phone(
    film: Film,
    *,
    folder: Path | None = None,
    warn: Warn | None = None,
    progress: Callable[[float], None] | None = None,
) -> PhoneDelay:
    """Measure the delay of a film from contacts both seen and heard, and keep it for its phone.

    Parameters
    ----------
    folder : Path or None
        Where the delays lie; None for the data folder. Of a film that does not tell its phone nothing is kept.

    Raises
    ------
    CoachError
        If too few contacts are both seen and heard, or the file of the delays cannot be read or written.
    """
    from tempo_coach.observe.film.seen_contacts import find_delay

    found = find_delay(film, warn=warn, progress=progress)
    delay = PhoneDelay(found.delay, found.error)
    if film.phone:
        file = (folder or data_folder()) / FILE_NAME
        rows = [_HEAD]
        for name, (late, error) in {**_read(file), film.phone: delay}.items():
            said = json.dumps(name, ensure_ascii=False).replace("\x7f", "\\u007f")
            rows.append(f"\n[[phone]]\nname = {said}\nbehind_ms = {1000 * late:.1f}\nerror_ms = {1000 * error:.1f}\n")
        file.parent.mkdir(parents=True, exist_ok=True)
        with written_whole(file) as made:
            made.write_text("".join(rows), encoding="utf-8")
    return delay


def known_delay(film: Film, *, folder: Path | None = None) -> PhoneDelay | None:
    """Return the measured delay of a film's phone; None without one.

    Raises
    ------
    CoachError
        If the file of the delays is there and not as it was written.
    """
    return _read((folder or data_folder()) / FILE_NAME).get(film.phone) if film.phone else None


def place_picture(
    alignment: Alignment, film: Film, *, measured: PhoneDelay | None = None, folder: Path | None = None
) -> tuple[Alignment, Reason]:
    """Return the alignment of a film's picture, and a note on its delay.

    Parameters
    ----------
    alignment : Alignment
        By the film's sound; one by a clap that was given is of the picture already and stays.
    measured : PhoneDelay or None
        In this film; None for that of its phone.
    """
    from tempo_coach.observe.film.film_take import DELAYS, without_delay

    known = measured or known_delay(film, folder=folder)
    if known is None or math.isnan(alignment.heard):
        return alignment, DELAYS
    return without_delay(alignment, known.delay), known.reason_of(film.phone)


def _read(file: Path) -> dict[str, PhoneDelay]:
    if not file.exists():
        return {}
    try:
        rows = tomllib.loads(read_text(file, what="text")).get("phone", [])
        found = {str(row["name"]): (float(row["behind_ms"]), float(row["error_ms"])) for row in rows}
        if not all(abs(late) <= _MOST_MS and 0 <= error <= _MOST_MS for late, error in found.values()):
            raise ValueError(file)
    except (tomllib.TOMLDecodeError, KeyError, TypeError, AttributeError, ValueError) as error:
        raise CoachError("phones.unreadable", where=str(file)) from error
    return {name: PhoneDelay(late / 1000, sd / 1000) for name, (late, sd) in found.items()}

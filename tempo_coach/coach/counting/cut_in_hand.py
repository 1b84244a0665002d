"""A cut tried out while counts are set: made, checked joint by joint, and written as a routine of its own."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from tempo_coach.coach.cutting import CutMade, CutWishes, cut_music, save_cut
from tempo_coach.errors import CoachError
from tempo_coach.music.cutting.joints import TEMPO_STEP
from tempo_coach.music.files.sound import Sound
from tempo_coach.music.files.sound_file import write_sound
from tempo_coach.pattern.routine.rules import DEFAULT_CODE, read_code
from tempo_coach.reasons import Reason, Why
from tempo_coach.resources import refuse_existing

if TYPE_CHECKING:
    from tempo_coach.pattern.routine.routine import Routine

#: Seconds that are heard on either side of a joint.
AROUND_JOINT = 4.0


@dataclass(frozen=True, eq=False)
class CutInHand:
    """The last cut.

    Parameters
    ----------
    words : str
        What was to be kept, as it was typed.
    routine : Routine
        Of the whole: once that is another one, this is a cut of it no more.
    made : CutMade
    joint : int
        Which joint is heard next.
    """

    words: str
    routine: Routine
    made: CutMade
    joint: int = 0


def try_cut(path: Path, routine: Routine, words: str) -> tuple[CutInHand, Reason]:
    """Cut the music of a routine, and return the cut with its length.

    Parameters
    ----------
    path : Path
        The routine's file.
    routine : Routine
        As it stands in that file.
    words : str
        The eights to keep, in order.

    Raises
    ------
    CoachError
        If it cannot be cut so.
    """
    made = cut_music(path, CutWishes(keep=tuple(words.split())), beside=path.parent)
    rules = [each for each in read_code(DEFAULT_CODE).rules if each.what == "length" and each.applies_to(routine.kind)]
    length = made.cut.duration - made.cut.begin
    news = Reason(Why.CUT_TO, (length, rules, routine.kind, len(made.joints)))
    return CutInHand(words, routine, made), news


def hear_joint(cut: CutInHand) -> tuple[CutInHand, Sound, Reason]:
    """Return the sound around the next joint, and what is known of it; the cut advances to the one after.

    Raises
    ------
    CoachError
        If it has none.
    """
    made = cut.made
    if not made.joints:
        raise CoachError("counts.nothing_cut")
    number = cut.joint % len(made.joints)
    at, rate_hz = made.cut.starts[number + 1], made.sound.rate_hz
    first, last = (max(0, round((at + by) * rate_hz)) for by in (-AROUND_JOINT, AROUND_JOINT))
    news = Reason(Why.JOINT_HEARD, (number + 1, len(made.joints), made.joints[number], at, made.old, TEMPO_STEP))
    return replace(cut, joint=number + 1), Sound(made.sound.samples[first:last], rate_hz), news


def write_cut(cut: CutInHand, folder: Path, name: str) -> Reason:
    """Write the cut music with its routine beside it, and return both.

    Raises
    ------
    CoachError
        If something is there already, or it cannot be written; it names the file alone.
    """
    made, sound = cut.made, folder / name
    path = sound.with_suffix(".toml")
    try:
        refuse_existing(path, force=False)
        write_sound(sound, made.sound, title=made.routine.title)
        save_cut(made, path, sound, kind=made.routine.kind, force=False)
    except CoachError as error:  # a whole path has no room on a screen
        raise error.at(Path(error.where).name if error.where else sound.name) from error
    return Reason(Why.CUT_WRITTEN, (sound.name, path.name))

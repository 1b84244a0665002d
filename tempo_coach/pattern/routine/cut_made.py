"""The result of a cut: what was made of the music, with the routine that is laid on it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.music.cutting.cut_list import CutList
    from tempo_coach.music.cutting.joints import Joint
    from tempo_coach.music.files.sound import Sound
    from tempo_coach.pattern.routine.routine import Routine
    from tempo_coach.reasons import Reason


@dataclass(frozen=True, eq=False)
class CutMade:
    """The result of a cut.

    Parameters
    ----------
    source : Path
        The whole music.
    sound : Sound
        What was made of it.
    routine : Routine
        With what is laid moved along; its music has no file yet.
    counts : CountMap
        Of what was made.
    joints : tuple of Joint
        Between its pieces, the joint to a last accent left out.
    old : CountMap
        Counts of the whole music, which name the joints.
    accent : float or None
        Seconds at which its last accent is heard, where it ends on that.
    loudness_lufs, peak_db : float
        As measured.
    said : tuple of Reason
        What has to be said of it.
    """

    source: Path
    sound: Sound
    routine: Routine
    counts: CountMap
    joints: tuple[Joint, ...]
    old: CountMap
    accent: float | None
    loudness_lufs: float
    peak_db: float
    said: tuple[Reason, ...]

    @property
    def cut(self) -> CutList:
        """The cut list."""
        made = self.routine.cut
        if made is None:
            raise ValueError("a cut routine has a cut list")
        return made.cut

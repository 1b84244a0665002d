"""All styles by name."""

from tempo_coach.music.beats.training.style import BANDS, Style
from tempo_coach.music.beats.training.styles_even import EVEN
from tempo_coach.music.beats.training.styles_hard import HARD
from tempo_coach.music.beats.training.styles_other import OTHER

__all__ = ["BANDS", "STYLES", "Style"]

STYLES: dict[str, Style] = {**EVEN, **OTHER, **HARD}

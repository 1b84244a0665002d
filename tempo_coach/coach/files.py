"""Files that both front ends read and write: plans, sounds, films to be written."""

from tempo_coach.music.files.container import load_decoder
from tempo_coach.music.files.sound import Sound
from tempo_coach.music.files.sound_file import find_format, read_sound, write_sound
from tempo_coach.pattern.plan.plan import Plan
from tempo_coach.pattern.plan.plan_file import plan_to_dict, read_plan

__all__ = [
    "Plan",
    "Sound",
    "find_format",
    "load_decoder",
    "plan_to_dict",
    "read_plan",
    "read_sound",
    "write_sound",
]

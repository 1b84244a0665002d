"""The whole flow as a handful of verbs: hear, lay, sound, judge. Read this first.

::

    heard = hear("music.wav")  # beats, counts, eights
    plan = lay(Request("rope_figure_eight", music="music.wav", from_eight=3, eights=4))
    sound = cue_sound(plan)  # music and cues, sample for sample
    card = judge_file("onsets.csv", plan)  # what was done against what was asked

Both front ends, the command line and the screens, call these and have no logic of their own: import contracts hold
them to it. Progress and warnings go to the callables that are passed in.

One module a verb: ``hearing``, ``planning``, ``placing`` (films, tables and recordings on the take clock), ``judging``,
``archiving`` (into the history), ``looking_back`` (out of it), ``correcting``, ``routines``, ``cutting``, ``groups``,
``todays_practice``, ``filming``, ``tracing``, ``tossing``, ``calibrating``; ``files`` and ``machine`` are what front
ends ask of the disk and of the computer. ``practising`` and ``counting`` are what of those two jobs knows no screen.
"""

from tempo_coach.coach.answered_tables import keep_answer, read_answered
from tempo_coach.coach.cutting import FADE_S, CutMade, CutWishes, cut_music, make_again, save_cut, was_cut
from tempo_coach.coach.drills import load_drill
from tempo_coach.coach.filmed_groups import in_one_film, read_answer
from tempo_coach.coach.hearing import EVEN_BPM, MUCH_TOO_SHORT, Heard, hear, read_music
from tempo_coach.coach.judging import judge_file, judge_members, judge_placed, judge_take
from tempo_coach.coach.placing import Placed, align_film, place_film, place_sound, place_trace, read_film, read_stretch
from tempo_coach.coach.planning import (
    Request,
    check_laid_on,
    check_request,
    cue_sound,
    hear_request,
    lay,
    lay_every_count,
    lay_routine,
)
from tempo_coach.coach.recording_members import RecordingOptions, names_history
from tempo_coach.coach.routines import (
    OpenRoutine,
    begin_routine,
    check_rules,
    correct_routine,
    counts_of,
    hands_of,
    hear_counts,
    is_routine,
    open_routine,
    read_taps,
    rescue_routine,
    save_routine,
    sheet_of,
    tell_rescued,
)
from tempo_coach.score.measures.steadiness import is_steady

__all__ = [
    "EVEN_BPM",
    "FADE_S",
    "MUCH_TOO_SHORT",
    "CutMade",
    "CutWishes",
    "Heard",
    "OpenRoutine",
    "Placed",
    "RecordingOptions",
    "Request",
    "align_film",
    "begin_routine",
    "check_laid_on",
    "check_request",
    "check_rules",
    "correct_routine",
    "counts_of",
    "cue_sound",
    "cut_music",
    "hands_of",
    "hear",
    "hear_counts",
    "hear_request",
    "in_one_film",
    "is_routine",
    "is_steady",
    "judge_file",
    "judge_members",
    "judge_placed",
    "judge_take",
    "keep_answer",
    "lay",
    "lay_every_count",
    "lay_routine",
    "load_drill",
    "make_again",
    "names_history",
    "open_routine",
    "place_film",
    "place_sound",
    "place_trace",
    "read_answer",
    "read_answered",
    "read_film",
    "read_music",
    "read_stretch",
    "read_taps",
    "rescue_routine",
    "save_cut",
    "save_routine",
    "sheet_of",
    "tell_rescued",
    "was_cut",
]

"""``Reason``: why a value is missing, or what was done to have it, as a code with arguments, for every layer.

No words stand here, and none are read: :mod:`tempo_coach.report.words.reasons` has a sentence for each code.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from typing import NamedTuple

from tempo_coach.errors import CoachError


class Why(StrEnum):
    """Codes; what stands beside one are the arguments of a reason with it."""

    # --- of a take
    NO_PAIR = "no_pair"
    ONE_PAIR = "one_pair"
    NOTHING_TO_PAIR = "nothing_to_pair"
    NO_PERIOD = "no_period"
    ONE_PERIOD = "one_period"
    NO_NEIGHBOURS = "no_neighbours"
    FEW_ASYNCHRONIES = "few_asynchronies"  # needed, present
    FEW_PERIODS = "few_periods"  # needed, present
    FEW_FREE_PERIODS = "few_free_periods"  # needed, present
    NOT_TAPPED = "not_tapped"  # way of observing
    CONSTANT_ASYNCHRONIES = "constant_asynchronies"
    CONSTANT_PERIODS = "constant_periods"
    SCATTERED_PERIODS = "scattered_periods"
    FLOOR_NOT_MEASURED = "floor_not_measured"  # way of observing
    NO_LAGS = "no_lags"
    NO_MOMENTS = "no_moments"
    NOT_MEASURABLE = "not_measurable"  # moments left out, moments
    ANY_CIRCLE = "any_circle"
    FITTED = "fitted"  # confidence
    MISSED_NOT_KNOWN = "missed_not_known"
    # --- of a group
    NO_MUSIC = "no_music"
    CLOCKS_BOUND = "clocks_bound"  # ms
    CLOCKS_WIDE = "clocks_wide"
    DOUBLE_ONSETS = "double_onsets"  # member, onsets
    NEVER_THERE = "never_there"  # member
    ELSEWHERE = "elsewhere"  # member, onsets, first second, last second
    ONE_RECORDING = "one_recording"
    NUMBER_NOT_KNOWN = "number_not_known"
    FEW_CYCLES = "few_cycles"  # members, needed, present
    NO_FOLLOWING = "no_following"
    NO_RELEASE = "no_release"
    TWO_MEMBERS = "two_members"
    CANON_OR_CLOCK = "canon_or_clock"  # member, seconds
    OTHER_LEVEL = "other_level"  # beats a minute as heard, as done
    IN_TURN = "in_turn"  # members in their order, moments of a round
    MIRRORED = "mirrored"  # members
    # --- of a trace
    NO_STEADY_LAG = "no_steady_lag"  # chance of Rayleigh's test, lags
    TURNING_RATE = "turning_rate"
    CONE = "cone"
    OTHER_PLACE = "other_place"
    OTHER_AXES = "other_axes"
    TILTED = "tilted"  # degrees
    SEAT_SHIFTS = "seat_shifts"
    NO_FLIGHTS = "no_flights"  # what is in the way
    NO_CYCLES = "no_cycles"  # what is in the way
    NO_SECOND = "no_second"  # what is in the way
    UNEVEN_CYCLE = "uneven_cycle"  # cycle from 1, mover, kind, first second, last second
    # --- of what a trace shows of a plan
    UNSEEN_MOMENTS = "unseen_moments"  # kind of moment, hand
    NO_COMMON_ZERO = "no_common_zero"  # hand
    NO_ZERO = "no_zero"  # member
    OTHER_STEPS = "other_steps"  # hand, seconds done, seconds asked
    NOT_FOLLOWED = "not_followed"  # hand
    SECTION_UNSEEN = "section_unseen"  # title of the section, error
    AMBIGUOUS_FIT = "ambiguous_fit"  # seconds to the next best fit, confidence
    FEW_CARRYING = "few_carrying"  # carrying cycles
    ONE_SPEED = "one_speed"
    SMALL_IN_RESIDUAL = "small_in_residual"  # radius, residual
    BACKWARDS = "backwards"
    # --- how a table was read
    EVEN_READINGS = "even_readings"  # readings a second
    TIME_COUNTED = "time_counted"  # column, readings a second
    TIME_OF_CLOCK = "time_of_clock"  # column
    TIME_IN_UNIT = "time_in_unit"  # column, unit
    TIME_SINCE_1970 = "time_since_1970"  # column, unit
    CLOCK_SET = "clock_set"  # reading, seconds before and after it, seconds that it is taken for
    CLOCK_SET_MORE = "clock_set_more"  # times
    CLOCK_KEPT = "clock_kept"  # first and last reading whose times are kept
    TIMES_FROM_FIRST = "times_from_first"
    ROWS_SORTED = "rows_sorted"  # rows
    ROWS_REPEATED = "rows_repeated"  # rows
    EVEN_STEPS = "even_steps"  # share repeated, seconds
    FILE_NAME_SAYS = "file_name_says"  # quantity
    HOLD_GRAVITY = "hold_gravity"  # columns
    GRAVITY_AGAINST_OPTION = "gravity_against_option"  # columns, unit
    GRAVITY_AGAINST_HEADER = "gravity_against_header"  # columns, unit
    AS_ANSWERED = "as_answered"  # quantity, unit
    COLUMN_IS = "column_is"  # column, quantity, axis, point, unit
    COLUMNS_CONSTANT = "columns_constant"  # columns
    COLUMNS_TWICE = "columns_twice"  # columns
    LONG_TABLE = "long_table"  # sensors or points, columns that name them
    TABLE_SORTED = "table_sorted"  # file
    LINE_LEFT_OUT = "line_left_out"  # file, line
    LAST_LINE_CUT = "last_line_cut"  # file
    # --- how a film was read
    SLOW_MOTION = "slow_motion"  # pictures a second as it was taken, times slower
    HDR = "hdr"
    OBLONG_PIXELS = "oblong_pixels"  # width over height
    PICTURE_RATE = "picture_rate"  # pictures a second
    ROLLING_SHUTTER = "rolling_shutter"
    CAMERA_MOVED = "camera_moved"  # pixels
    CAMERA_UNKNOWN = "camera_unknown"
    CAMERA_UNKNOWN_UNMARKED = "camera_unknown_unmarked"
    NO_MARKER = "no_marker"
    OTHER_COLOURS = "other_colours"  # colours
    MARKER_STILL = "marker_still"  # marker, stretches in seconds
    MARKER_GUESSED = "marker_guessed"  # marker, seconds
    FILM_CUT_SHORT = "film_cut_short"  # file, seconds announced, seconds read
    PICTURES_WITHOUT_TIME = "pictures_without_time"  # file, pictures
    FILM_TWO_PLACES = "film_two_places"  # file
    PHONE_DELAY = "phone_delay"  # ms, error in ms, phone
    FILM_DELAYS = "film_delays"
    WHOLE_CYCLES = "whole_cycles"
    HANDS_GUESSED = "hands_guessed"  # markers, hands
    HIDDEN_MOMENTS = "hidden_moments"  # moments, of all
    # --- how a recording was heard
    NOT_RECORDED = "not_recorded"  # moments, of all
    BOTH_HANDS = "both_hands"  # sounds
    HEARD_BY = "heard_by"  # kind, onset, delay in ms, spread in ms
    SOUND_DELAYS = "sound_delays"
    SOUND_CUT_SHORT = "sound_cut_short"  # file, seconds announced or None, seconds read
    MP3_CUT_SHORT = "mp3_cut_short"  # file, seconds announced, seconds read
    MEMBER_LEFT_OUT = "member_left_out"  # member, error
    MARKS_APART = "marks_apart"  # ms
    MARKS_ON_NO_COUNT = "marks_on_no_count"
    CYCLES_AS_COUNTS = "cycles_as_counts"  # period
    NOT_KNOWN_WHO = "not_known_who"  # seconds, member
    NUMBERED_AFTER_CROSSING = "numbered_after_crossing"  # seconds of the picture, number of crossing, names
    NOTHING_AFTER_CROSSING = "nothing_after_crossing"  # seconds, member
    CROSSING_RECALLED = "crossing_recalled"  # answers
    # --- of a routine
    OF_ROUTINE = "of_routine"  # file, reason
    BEYOND_EIGHT = "beyond_eight"  # kind of place, name, count, eight, its length
    BEYOND_MUSIC = "beyond_music"  # kind of place, name, eight, second, seconds of music
    CORRECTION_BEYOND_MUSIC = "correction_beyond_music"  # second
    CORRECTION_LOST = "correction_lost"  # correction, error
    MUSIC_CHANGED = "music_changed"  # file
    MUSIC_MOVED = "music_moved"  # file as written, file
    RESCUED = "rescued"  # file
    # --- of music that is cut
    CUT_OUT = "cut_out"  # kind of place, name, eight
    NO_LAST_ACCENT = "no_last_accent"  # seconds of the fade
    PEAKS_FIRST = "peaks_first"  # LU that are missing, LUFS wished
    REMARKS_UNSAID = "remarks_unsaid"  # their texts
    # --- of beats
    BEAT_MISSING = "beat_missing"
    BEAT_TOO_MANY = "beat_too_many"
    PAUSE = "pause"  # seconds
    TWO_LEVELS = "two_levels"
    HARD_TO_HEAR = "hard_to_hear"
    TEMPO_JUMPS = "tempo_jumps"
    WAITS = "waits"  # seconds
    SLOWS = "slows"  # counts that lie in it
    SPLICE = "splice"
    # --- of counts while they are set
    SO_ALREADY = "so_already"
    CORRECTED = "corrected"  # correction
    NO_PLACE = "no_place"  # correction, how many more, error
    MORE_NOTES = "more_notes"  # note, how many more
    NOTHING_TO_TAKE_BACK = "nothing_to_take_back"
    NOTHING_TO_DO_AGAIN = "nothing_to_do_again"
    TAKEN_BACK = "taken_back"  # correction, or None
    DONE_AGAIN = "done_again"  # correction, or None
    SAVED_IN = "saved_in"  # file
    NO_DOUBT = "no_doubt"
    CALLED_RIGHT = "called_right"  # how many are left
    NOTHING_DOUBTED = "nothing_doubted"
    DOUBT = "doubt"  # reason, last second of a stretch or None, how many are left
    NO_STRETCH = "no_stretch"
    OTHER_END = "other_end"
    NOTHING_LAID = "nothing_laid"
    TAKEN_OFF = "taken_off"  # eight
    LAID_ON = "laid_on"  # drill, eight
    MOMENT_SET = "moment_set"  # kind, count
    REMARK_SET = "remark_set"
    NO_REMARK = "no_remark"
    RENAMED = "renamed"
    KIND_SET = "kind_set"  # alone, or group
    LAST_MOVEMENT = "last_movement"  # eight, count
    STEPS_MARKED = "steps_marked"
    NOTHING_TAPPED = "nothing_tapped"
    CUT_TO = "cut_to"  # length in seconds, rules of length, alone or group, joints
    JOINT_HEARD = "joint_heard"  # number, of how many, the joint, where in seconds, counts of the whole, step of tempo
    CUT_WRITTEN = "cut_written"  # sound file, routine
    TAPPED_ANEW = "tapped_anew"  # counts
    # --- of a take and what became of it
    UNWRITTEN = "unwritten"  # file, the system's error
    UNKEPT = "unkept"  # error, or what another one says; file or None
    CLIP_DRAWN = "clip_drawn"
    CLIP_WRITTEN = "clip_written"  # file
    NO_CLIP = "no_clip"  # error
    NOTHING_RECORDED = "nothing_recorded"
    RECORDING_UNWRITTEN = "recording_unwritten"  # error, or why in the system's words
    PLAYED_NOT_HEARD = "played_not_heard"  # file or None
    LOOP_CHANGED = "loop_changed"  # ms, from when, until when
    OTHER_RATE_HEARD = "other_rate_heard"  # from when, until when, samples a second as played, and as asked for
    # --- of takes over days
    NO_TAKE = "no_take"
    FEW_DAYS = "few_days"  # needed, present
    NO_NIGHTS = "no_nights"
    FEW_TAKES = "few_takes"  # takes and tempi needed, takes and tempi present
    SLOWEST_TOO_FAST = "slowest_too_fast"  # beats a minute
    FASTEST_STEADY = "fastest_steady"  # beats a minute
    EITHER_WAY = "either_way"


class Reason(NamedTuple):
    """A code with its arguments; also of what was understood or mended in what was read.

    Parameters
    ----------
    code : Why
    args : tuple
        Numbers, names and tuples of names, or an error that is in the way, as many as the code has.

    Examples
    --------
    >>> Reason(Why.FEW_PERIODS, (5, 3)).to_dict()
    {'code': 'few_periods', 'args': [5, 3]}
    """

    code: Why
    args: tuple[object, ...] = ()

    def to_dict(self) -> dict[str, object]:
        """Return it as plain values."""
        return {
            "code": str(self.code),
            "args": [each.code if isinstance(each, CoachError) else each for each in self.args],
        }


#: A message to a person while work goes on, and the function that passes it on.
Note = Reason | CoachError
Warn = Callable[[Note], None]

"""``Reason``: why a value is missing, or what was done to have it, as a code with arguments, for every layer.

No words stand here, and none are read: :mod:`tempo_coach.report.words.reasons` has a sentence for each code.
"""

from __future__ import annotations

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
    DOUBLE_ONSETS = "double_onsets"  # member, onsets
    NEVER_THERE = "never_there"  # member
    ELSEWHERE = "elsewhere"  # member, onsets, first second, last second
    ONE_RECORDING = "one_recording"
    NUMBER_NOT_KNOWN = "number_not_known"
    FEW_CYCLES = "few_cycles"  # members, needed, present
    NO_FOLLOWING = "no_following"
    NO_RELEASE = "no_release"
    TWO_MEMBERS = "two_members"
    IN_TURN = "in_turn"  # members in their order, moments of a round
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
    OTHER_STEPS = "other_steps"  # hand, seconds done, seconds asked
    NOT_FOLLOWED = "not_followed"  # hand
    AMBIGUOUS_FIT = "ambiguous_fit"  # seconds to the next best fit, confidence
    FEW_CARRYING = "few_carrying"  # carrying cycles
    ONE_SPEED = "one_speed"
    SMALL_IN_RESIDUAL = "small_in_residual"  # radius, residual
    BACKWARDS = "backwards"
    # --- of takes over days
    NO_TAKE = "no_take"
    FEW_DAYS = "few_days"  # needed, present
    NO_NIGHTS = "no_nights"
    FEW_TAKES = "few_takes"  # takes and tempi needed, takes and tempi present
    SLOWEST_TOO_FAST = "slowest_too_fast"  # beats a minute
    FASTEST_STEADY = "fastest_steady"  # beats a minute
    EITHER_WAY = "either_way"


class Reason(NamedTuple):
    """A code with its arguments.

    Parameters
    ----------
    code : Why
    args : tuple
        Numbers and names, or an error that is in the way, as many as the code has.

    Examples
    --------
    >>> Reason(Why.FEW_PERIODS, (5, 3)).to_dict()
    {'code': 'few_periods', 'args': [5, 3]}
    """

    code: Why
    args: tuple[float | str | CoachError, ...] = ()

    def to_dict(self) -> dict[str, object]:
        """Return it as plain values."""
        return {
            "code": str(self.code),
            "args": [each.code if isinstance(each, CoachError) else each for each in self.args],
        }

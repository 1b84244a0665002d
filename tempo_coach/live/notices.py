"""Notices to whoever practises, as codes with arguments. Their words: :mod:`tempo_coach.report.words.live`."""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple


class Code(StrEnum):
    """Subject of a notice; its arguments are named beside it."""

    #: The sound is back, and a paused take can go on.
    BACK = "back"
    #: Sound was lost for a moment.
    GAP = "gap"
    NO_MICROPHONE = "no microphone"
    #: A take without sound was asked for.
    SILENT = "silent"
    #: A key leads through the screens and can be no hand's.
    KEY_LEADS = "key leads"
    #: A key is another hand's already; that hand.
    KEY_TAKEN = "key taken"
    #: Keys of hands were pressed before the first sample was heard, and are in no take; how many.
    KEYS_TOO_SOON = "keys too soon"
    CLAP_AWAITED = "clap awaited"
    CLAP_NO_LIBRARY = "clap: no library"
    #: The microphone is refused; the device's own words.
    CLAP_REFUSED = "clap: refused"
    CLAP_LISTENER_GONE = "clap: listener gone"
    CLAP_NO_PIPES = "clap: no pipes"
    #: Calibrations cannot be read; the reason.
    NOT_CALIBRATED = "not calibrated"
    #: A device's delay is another one at each opening; by how many milliseconds.
    DELAY_CHANGES = "delay changes"
    #: On a busy machine the device contradicts itself on how long sound waits before it is heard.
    LATENCY_UNKNOWN = "latency unknown"
    #: Nothing listens for phones: address and port, and the system's code.
    PHONES_REFUSED = "phones: refused"
    PHONES_GONE = "phones: server gone"
    #: A phone wants to be let in; the digits that it shows.
    PHONE_ASKS = "phone asks"
    #: What happened to a phone; its name.
    PHONE_SILENT = "phone silent"
    PHONE_BACK = "phone back"
    PHONE_HIDDEN = "phone hidden"
    PHONE_JUMPED = "phone's clock jumped"
    PHONE_NO_MOTION = "phone: no motion"
    PHONE_SLEEPS = "phone: no wake lock"
    #: Lines came that are no onset and no reading; no more lines come.
    LINES_UNREAD = "lines unread"
    LINES_OVER = "lines over"
    #: A pad was hit that is no hand's; which ones are.
    PAD_STRANGE = "pad strange"
    #: Rows of a take are still to come, and were judged again as they came.
    ROWS_AWAITED = "rows awaited"
    ROWS_CAME = "rows came"


class Trouble(StrEnum):
    """Troubles of sound, which a notice may also be about."""

    NO_LIBRARY = "no library"
    NO_DEVICE = "no device"
    #: The format is refused; the samples a second that were asked for, and those that the device would like or None.
    REFUSED = "refused"
    NOT_OPENED = "not opened"
    LOST = "lost"
    FROZEN = "frozen"
    #: The device plays at another rate than was asked for; the samples a second that were, and those that it plays.
    OTHER_RATE = "other rate"
    NO_ROOM = "no room"


class Notice(NamedTuple):
    """A notice."""

    code: Code | Trouble
    arguments: tuple[object, ...] = ()


class SoundFailed(Exception):  # noqa: N818  the name says what it is
    """Error of a measurement that needs sound and has none.

    Parameters
    ----------
    notice : Notice
    """

    def __init__(self, notice: Notice) -> None:
        super().__init__(notice)
        self.notice = notice

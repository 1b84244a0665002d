"""Notices in words: every code has a sentence of its own, made with the arguments that it comes with."""

import pytest

from tempo_coach.coach.notices import tell
from tempo_coach.errors import CoachError
from tempo_coach.live.notices import Code, Notice, Trouble
from tempo_coach.report.words.errors import message_of
from tempo_coach.report.words.live import NOTICES, say_notice

ARGUMENTS = {
    Code.KEY_TAKEN: ("left",),
    Code.CLAP_REFUSED: ("it is in use",),
    Code.NOT_CALIBRATED: (CoachError("calibration.unreadable"),),
    Code.DELAY_CHANGES: (40.2,),
    Trouble.REFUSED: (48_000, 44_100),
    Trouble.OTHER_RATE: (48_000, 44_100),
    Code.PHONES_REFUSED: ("192.0.2.7:8080", 98),
    Code.PHONE_ASKS: ("417",),
    Code.KEYS_TOO_SOON: (27,),
    Code.PAD_STRANGE: ("right 36, left 38",),
    Code.PHONE_SILENT: ("Ada",),
    Code.PHONE_BACK: ("Ada",),
    Code.PHONE_HIDDEN: ("Ada",),
    Code.PHONE_JUMPED: ("Ada",),
    Code.PHONE_NO_MOTION: ("Ada",),
    Code.PHONE_SLEEPS: ("Ada",),
}


@pytest.mark.parametrize("code", [*Code, *Trouble])
def test_every_notice_is_one_sentence_with_its_arguments_in_it(code):
    said = tell(Notice(code, ARGUMENTS.get(code, ())))
    assert said[0].isupper() and said.endswith(".") and "{" not in said
    for each in ARGUMENTS.get(code, ()):
        if isinstance(each, CoachError):
            assert message_of(each) in said
        elif code is not Code.PHONES_REFUSED or isinstance(each, str):  # the system's code is told as what it means
            assert (f"{each:.0f}" if isinstance(each, float) else str(each)) in said


def test_there_are_no_words_for_what_is_never_told():
    assert set(NOTICES) == {*Code, *Trouble}
    assert len(NOTICES) == len(Code) + len(Trouble)


def test_a_device_that_names_no_other_rate_is_offered_none():
    assert "offers" not in say_notice(Trouble.REFUSED, (48_000, None))
    assert "offers" not in say_notice(Trouble.REFUSED, (48_000, 48_000))


def test_no_notice_is_no_sentence():
    assert tell(None) == ""

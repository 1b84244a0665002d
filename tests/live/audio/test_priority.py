"""Priority of the audio process, told by the system itself."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tempo_coach.live.audio.priority import PRIORITY, is_given, raise_priority

TOLD = (
    "import os; from tempo_coach.live.audio.priority import raise_priority; "
    "print(raise_priority(), os.sched_getscheduler(0) == os.SCHED_RR, os.sched_getparam(0).sched_priority)"
)


@pytest.mark.skipif(not hasattr(os, "sched_setscheduler"), reason="the system has no such scheduling")
def test_what_is_answered_is_what_the_system_says() -> None:
    told = subprocess.run([sys.executable, "-c", TOLD], capture_output=True, text=True, check=True).stdout.split()
    assert told in (["True", "True", str(PRIORITY)], ["False", "False", "0"])
    before = os.sched_getscheduler(0)
    assert is_given() is (told[0] == "True")
    assert os.sched_getscheduler(0) == before


def test_a_system_that_refuses_or_knows_no_such_thing_is_left_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError

    monkeypatch.setattr(os, "sched_setscheduler", refuse, raising=False)
    assert not raise_priority() and not is_given()
    monkeypatch.delattr(os, "sched_setscheduler", raising=False)
    assert not raise_priority()

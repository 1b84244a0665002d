import gc
import sys

import pytest

from tempo_coach.live.inputs.key_stamps import NEVER, SWITCH_INTERVAL, steady_interpreter


def state():
    # what the tests themselves have frozen stays frozen
    return gc.get_threshold(), sys.getswitchinterval(), gc.get_freeze_count() > 0


def test_a_take_is_not_interrupted_and_everything_is_put_back():
    before = state()
    with steady_interpreter():
        assert gc.get_threshold()[2] == NEVER
        assert sys.getswitchinterval() == pytest.approx(SWITCH_INTERVAL)
        assert gc.get_freeze_count() > 0
    assert state() == before


def test_everything_is_put_back_after_a_failure_too():
    before = state()
    with pytest.raises(ZeroDivisionError), steady_interpreter():
        raise ZeroDivisionError
    assert state() == before

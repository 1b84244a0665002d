"""MIDI without hardware: mido's own messages and callbacks, behind ports that the tests make."""

from time import perf_counter, sleep

import mido
import pytest

from tempo_coach import coach
from tempo_coach.coach.practising.sources import open_midi
from tempo_coach.live.inputs.pads import MidiListener
from tempo_coach.live.notices import Code
from tests import HANG
from tests.generators import midi_backend
from tests.refused import refused

PLAN = coach.lay(coach.Request("clubs_mills", tempo_bpm=120, cycles=8))


@pytest.fixture
def without_hardware(monkeypatch):
    monkeypatch.setenv("MIDO_BACKEND", midi_backend.__name__)
    mido.set_backend(midi_backend.__name__)
    yield
    mido.set_backend(None)


def messages(listener: MidiListener, *sent: mido.Message) -> list:
    for each in sent:
        listener.came(each)
    return listener.poll()


def test_pads_are_the_hands_in_the_order_in_which_they_are_hit(without_hardware, monkeypatch):
    monkeypatch.setattr(midi_backend, "EVERY", 0.02)
    listener = open_midi("PADS", PLAN.hands)
    try:
        listener.begin(PLAN, perf_counter())
        news, end = [], perf_counter() + HANG
        while len(news) < 4 and perf_counter() < end:
            news += listener.poll()
            sleep(0.01)
        assert [each.hand for each in news[:4]] == ["right", "left", "right", "left"]
        assert listener.note == "right 36, left 38" and listener.observed_by == "midi"
    finally:
        listener.close()
    with refused("expected part of the name of one port of MIDI, got 'piano'; there are: invented pads"):
        open_midi("piano", PLAN.hands)


def test_a_pedal_is_one_onset_a_press_and_a_third_pad_is_said_once(without_hardware):
    listener = MidiListener("invented pads", PLAN.hands)
    listener.close()
    listener.poll()
    listener._known.clear()
    listener.begin(PLAN, perf_counter())
    down = [mido.Message("control_change", control=64, value=v) for v in (10, 70, 100, 127, 30, 90)]
    assert [each.hand for each in messages(listener, *down)] == ["right", "right"]
    quiet = (mido.Message("note_on", note=40, velocity=0), mido.Message("control_change", control=7, value=99))
    assert messages(listener, *quiet, mido.Message("clock")) == []
    (left,) = messages(listener, mido.Message("note_on", note=40, velocity=9))
    assert left.hand == "left" and listener.note == "right pedal 64, left 40"
    (strange,) = messages(listener, *[mido.Message("note_on", note=n, velocity=9) for n in (50, 51)])
    assert strange.code is Code.PAD_STRANGE


def test_with_one_hand_every_pad_is_its_own(without_hardware):
    listener = MidiListener("invented pads", ("rope",))
    listener.close()
    listener.poll()
    listener.begin(PLAN, perf_counter())
    assert {each.hand for each in messages(listener, *[mido.Message("note_on", note=n) for n in (1, 2, 3)])} == {"rope"}

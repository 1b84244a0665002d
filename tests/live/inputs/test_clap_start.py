"""Beginning with a clap: when the microphone is open, what is said, and when it is let go."""

from tempo_coach.live.inputs.clap_start import ClapStart
from tempo_coach.live.notices import Code, Notice


class Fake:
    def __init__(self) -> None:
        self.trouble: Notice | None = None
        self.clapped, self.opened, self.closed = False, 0, 0

    def open(self) -> "Fake":
        self.opened += 1
        return self

    def heard(self) -> bool:
        return self.clapped

    def close(self) -> None:
        self.closed += 1


def test_the_microphone_is_open_only_while_the_practice_waits() -> None:
    fake = Fake()
    start = ClapStart(fake.open)  # type: ignore[arg-type]  # a listener without a microphone
    assert start.look(waiting=False) == (False, None) and fake.opened == 0
    assert start.look(waiting=True) == (False, Notice(Code.CLAP_AWAITED)) and fake.opened == 1
    assert start.look(waiting=True) == (False, None) and fake.closed == 0
    assert start.look(waiting=False) == (False, None) and fake.closed == 1
    start.close()
    assert fake.closed == 1


def test_a_clap_begins_once_and_lets_the_microphone_go() -> None:
    fake = Fake()
    start = ClapStart(fake.open)  # type: ignore[arg-type]  # a listener without a microphone
    fake.clapped = True
    assert start.look(waiting=True)[0] and fake.closed == 1
    assert start.look(waiting=False) == (False, None)


def test_a_microphone_that_fails_is_said_once_and_not_tried_again() -> None:
    fake = Fake()
    start = ClapStart(fake.open)  # type: ignore[arg-type]  # a listener without a microphone
    fake.trouble = Notice(Code.CLAP_LISTENER_GONE)
    begin, notice = start.look(waiting=True)
    assert not begin and notice == fake.trouble
    assert start.look(waiting=True) == (False, None) and (fake.opened, fake.closed) == (1, 1)


def test_where_no_clap_was_asked_for_nothing_is_opened() -> None:
    assert ClapStart(None).look(waiting=True) == (False, None)

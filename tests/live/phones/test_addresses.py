"""Addresses: one is bound and never all, and what cannot be is said."""

import errno
import socket

import pytest

from tempo_coach.errors import CoachError
from tempo_coach.live.phones.addresses import PORT, can_bind, is_reachable, list_addresses, read_address
from tempo_coach.report.words.errors import say_error


def test_an_address_with_and_without_a_port():
    assert read_address("192.168.0.5") == ("192.168.0.5", PORT) and read_address("10.0.0.1:99") == ("10.0.0.1", 99)


@pytest.mark.parametrize(
    "given", ["0.0.0.0", "", "*", "::", "all", "224.0.0.1", "1.2.3", "10.0.0.1:0", "10.0.0.1:x", "10.0.0.1:65536"]
)
def test_all_addresses_and_none_are_refused(given):
    with pytest.raises(CoachError) as caught:
        read_address(given)
    assert say_error(caught.value).startswith("--address: expected")


def test_what_is_offered_can_be_reached_by_others():
    assert all(is_reachable(each) for each in list_addresses())
    assert not is_reachable("127.0.0.1") and not is_reachable("0.0.0.0") and is_reachable("192.168.1.7")


def test_why_a_port_cannot_be_had():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        assert can_bind("127.0.0.1", taken.getsockname()[1]).errno == errno.EADDRINUSE
    assert can_bind("192.0.2.77", 0).errno == errno.EADDRNOTAVAIL

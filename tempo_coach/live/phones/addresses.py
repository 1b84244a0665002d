"""The private addresses of this machine that phones can reach; the server binds to a single one."""

from __future__ import annotations

import contextlib
import ipaddress
import socket

from tempo_coach.errors import CoachError

#: The port that is asked for; one number, so that a firewall can be told.
PORT = 8765
#: Addresses that the system is asked the way to: none of them is sent anything (a datagram socket only looks it up).
#: They are set aside for documentation and for private networks (RFC 5737, RFC 1918).
_WAYS = ("192.0.2.1", "192.168.0.1", "192.168.1.1", "10.0.0.1", "172.16.0.1", "192.168.43.1", "172.20.10.1")


def list_addresses() -> tuple[str, ...]:
    """Return this machine's private addresses, that of the default route first; empty without a network."""
    found: dict[str, None] = {}
    for way in _WAYS:
        with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
            asked.connect((way, 9))
            found[asked.getsockname()[0]] = None
    with contextlib.suppress(OSError):
        found |= dict.fromkeys(socket.gethostbyname_ex(socket.gethostname())[2])
    return tuple(each for each in found if is_reachable(each))


def read_address(given: str, *, where: str = "--address") -> tuple[str, int]:
    """Return address and port from ``A`` or ``A:PORT``.

    Parameters
    ----------
    given : str
    where : str
        The option that it was given with.

    Raises
    ------
    CoachError
        If it is not one address: all of them at once are never bound.
    """
    address, _, port = given.partition(":")
    try:
        parsed = ipaddress.IPv4Address(address)
    except ValueError:
        parsed = None
    if parsed is None or parsed.is_unspecified or parsed.is_multicast:
        raise CoachError("phones.no_address", where=where, given=given)
    if port and not (port.isascii() and port.isdigit() and 1 <= int(port[:6]) <= 65535):
        raise CoachError("phones.no_port", where=where, port=port)
    return address, int(port or PORT)


def is_reachable(address: str) -> bool:
    """Return whether an address can be reached by phones: neither a wildcard nor loopback."""
    try:
        parsed = ipaddress.IPv4Address(address)
    except ValueError:
        return False
    return not (parsed.is_unspecified or parsed.is_loopback or parsed.is_multicast)


def can_bind(address: str, port: int) -> OSError | None:
    """Return why a server cannot listen at an address; None where it can."""
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as tried:
            tried.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            tried.bind((address, port))
    except OSError as error:
        return error
    return None

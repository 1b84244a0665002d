"""The computer as both front ends ask about it: devices of sound, addresses for phones, priority, its folders."""

from __future__ import annotations

from typing import NamedTuple

from tempo_coach.live.audio.devices import Devices, check_device, list_devices
from tempo_coach.live.audio.priority import PRIORITY, is_given
from tempo_coach.live.phones.addresses import PORT, can_bind, list_addresses

__all__ = [
    "PORT",
    "PRIORITY",
    "Addresses",
    "Devices",
    "check_device",
    "find_addresses",
    "has_priority",
    "list_devices",
    "own_places",
]


class Addresses(NamedTuple):
    """Addresses of this computer that phones can reach, and those on which the port is free."""

    known: tuple[str, ...]
    free: tuple[str, ...]


def find_addresses() -> Addresses:
    """Return the addresses for phones."""
    known = tuple(list_addresses())
    return Addresses(known, tuple(each for each in known if can_bind(each, PORT) is None))


def has_priority() -> bool:
    """Return whether sound gets real-time priority here."""
    return is_given()


def own_places() -> tuple[str, str, str]:
    """Return where the takes, the history and the mixed samples of this person lie."""
    from tempo_coach.coach.looking_back import find_history
    from tempo_coach.coach.practising.start import takes_folder
    from tempo_coach.live.audio.samples import samples_folder

    return str(takes_folder()), str(find_history()), str(samples_folder())

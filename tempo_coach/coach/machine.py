"""The computer as both front ends ask about it: devices of sound, addresses for phones, priority, its folders."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from tempo_coach.live.audio.devices import Devices, check_device, list_devices
from tempo_coach.live.audio.priority import PRIORITY
from tempo_coach.live.audio.priority import is_given as has_priority
from tempo_coach.live.phones.addresses import PORT, can_bind, list_addresses

if TYPE_CHECKING:
    from pathlib import Path

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


def own_places() -> tuple[Path, Path, Path]:
    """Return where the takes, the history and the mixed samples of this person lie."""
    from tempo_coach.coach.looking_back import find_history
    from tempo_coach.coach.practising.start import takes_folder
    from tempo_coach.live.audio.samples import samples_folder

    return takes_folder(), find_history(), samples_folder()

"""What the screens' tests share: the machine's sound devices, of which there are two, and a sound server to hear."""

import pytest

from tempo_coach.live.audio.devices import Devices
from tests.live.conftest import sound_server

__all__ = ["sound_server"]


@pytest.fixture(autouse=True)
def two_devices(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempo_coach.ui.practice.setup.list_devices", lambda: Devices(("speakers", "headphones"), ()))

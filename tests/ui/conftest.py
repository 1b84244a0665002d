"""The screens ask for the machine's sound devices; in tests there are two."""

import pytest

from tempo_coach.live.devices import Devices


@pytest.fixture(autouse=True)
def two_devices(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempo_coach.ui.setup.list_devices", lambda: Devices(("speakers", "headphones"), ()))

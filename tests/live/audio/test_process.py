"""An audio process leaves nothing behind in the program that started it, whatever became of its sound."""

from __future__ import annotations

from pathlib import Path

import pytest

from tempo_coach.live.audio.player import PlaybackRequest
from tempo_coach.live.audio.process import Process

DESCRIPTORS = Path("/proc/self/fd")


@pytest.mark.skipif(not DESCRIPTORS.is_dir(), reason="the system does not list descriptors")
def test_a_process_that_has_ended_holds_no_descriptor(tmp_path: Path) -> None:
    (tmp_path / "samples.f32").write_bytes(bytes(48_000))

    def start_and_end() -> int:
        process = Process(PlaybackRequest(str(tmp_path / "samples.f32"), 48_000), tmp_path)
        process.end()
        return sum(1 for _ in DESCRIPTORS.iterdir())

    first = start_and_end()
    assert start_and_end() == first
    assert not list(tmp_path.glob("board-*"))

"""The callback of the audio process: what it copies, frame by frame, whatever the blocks."""

from types import SimpleNamespace

import numpy as np
import pytest

from tempo_coach.live.audio.player import BEFORE, PlaybackRequest, make_player

TIMES = SimpleNamespace(outputBufferDacTime=0.0, currentTime=0.0, inputBufferAdcTime=0.0)


@pytest.mark.parametrize("block", [37, 100, 1024])
@pytest.mark.parametrize("loops", [False, True])
def test_samples_follow_each_other_whatever_the_blocks(block, loops):
    rate, frames = 100, 250
    samples = np.column_stack([np.arange(1, frames + 1), -np.arange(1, frames + 1)]).astype("<f4")
    request = PlaybackRequest("", rate, loops=loops)
    board = SimpleNamespace(map=bytearray(1 << 20))
    play = make_player(memoryview(samples.tobytes()), request, board)
    heard = []
    for _ in range(900 // block + 1):
        # a silent block is no longer than a second
        for part in [rate] * (block // rate) + ([block % rate] if block % rate else []):
            out = bytearray(part * 8)
            play(None, memoryview(out), part, TIMES, None)
            heard.append(np.frombuffer(out, "<f4").reshape(-1, 2))
    heard = np.concatenate(heard)[round(BEFORE * rate) :]
    expected = np.resize(samples, heard.shape) if loops else np.vstack([samples, np.zeros_like(heard)])[: len(heard)]
    np.testing.assert_array_equal(heard, expected)

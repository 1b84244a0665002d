"""Taps to the music of a routine as corrections: of the stretch that they cover, or of the whole music."""

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.errors import CoachError
from tempo_coach.music.files.sound_file import write_sound
from tests.generators.workplace import invented_music


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> coach.OpenRoutine:
    folder = tmp_path_factory.mktemp("taps")
    write_sound(folder / "music.wav", invented_music().sound)
    return coach.begin_routine(folder / "routine.toml", folder / "music.wav")


@pytest.mark.parametrize("all_of_it", [True, False])
def test_taps_on_the_counts_leave_them_where_they_are(opened: coach.OpenRoutine, all_of_it: bool) -> None:
    beats = opened.counts.beats[8:24]
    (tapped, *others), number = coach.read_taps(opened, beats.tolist(), all_of_it=all_of_it)
    assert tapped.do == "tapped" and not others
    assert number == len(tapped.times) >= len(beats)
    near = np.abs(np.subtract.outer(beats, tapped.times)).min(axis=1)
    assert near.max() < 0.03
    assert tapped.to == (opened.heard.sound.duration if all_of_it else None)
    assert tapped.at == (0.0 if all_of_it else pytest.approx(beats[0], abs=0.03))


def test_one_tap_is_too_few(opened: coach.OpenRoutine) -> None:
    with pytest.raises(CoachError):
        coach.read_taps(opened, [1.0], all_of_it=False)

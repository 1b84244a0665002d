"""Music of our own for the commands, made once."""

import pytest

from tempo_coach.music.files.sound_file import write_sound
from tests.generators.workplace import invented_music


@pytest.fixture(scope="session")
def invented():
    return invented_music()


@pytest.fixture(scope="session")
def music(tmp_path_factory, invented):
    path = tmp_path_factory.mktemp("music") / "invented music.flac"
    write_sound(path, invented.sound)
    return path

"""Which sound devices there are, and a name that is that of none."""

import pytest

from tempo_coach.cli import main
from tempo_coach.errors import CoachError
from tempo_coach.live.audio.devices import check_device, list_devices
from tempo_coach.report.words.errors import say_error
from tests.refused import refused

#: A sound library of a machine with invented devices; it answers as sounddevice does (its documentation of
#: ``query_devices``: a name has to fit exactly one, else ValueError).
LIBRARY = """
class PortAudioError(Exception): pass
class default: device = (2, 1)
NAMES = [("hall left", 0, 2), ("hall right", 0, 2), ("microphone", 1, 0)]
def query_devices(name=None, kind=None):
    every = [{"name": n, "max_input_channels": i, "max_output_channels": o} for n, i, o in NAMES]
    if name is None:
        return every
    fit = [each for each in every if name in each["name"] and each[f"max_{kind}_channels"]]
    if len(fit) != 1:
        raise ValueError(f"{len(fit)} devices")
    return fit[0]
"""


@pytest.fixture
def library(tmp_path, monkeypatch):
    (tmp_path / "sounddevice.py").write_text(LIBRARY)
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    return tmp_path / "sounddevice.py"


def test_the_usual_device_comes_first(library):
    assert list_devices().outputs == ("hall right", "hall left")
    assert list_devices().inputs == ("microphone",)


@pytest.mark.parametrize(("name", "way"), [("left", "outputs"), ("hall right", "outputs"), ("micro", "inputs")])
def test_a_part_of_one_name_is_enough(library, name, way):
    check_device(name, way, where="--device")


@pytest.mark.parametrize("name", ["nosuch", "hall", "microphone"])
def test_a_name_of_none_or_of_several_is_told_with_those_there_are(library, name):
    with pytest.raises(CoachError) as caught:
        check_device(name, "outputs", where="--device")
    assert say_error(caught.value) == (
        f"--device: expected part of the name of a loudspeaker, got {name!r}; there are hall right, hall left."
    )
    with refused("a microphone"):
        check_device("left", "inputs", where="--record")


def test_a_machine_without_devices_is_told_by_what_plays(library):
    library.write_text(LIBRARY.replace("(2, 1)", "(-1, -1)") + "NAMES = []\n")
    check_device("nosuch", "outputs", where="--device")


@pytest.mark.parametrize(
    ("words", "option"),
    [
        ("practise clubs_mills --device nosuch", "--device"),
        ("practise clubs_mills --record nosuch", "--record"),
        ("calibrate --device nosuch", "--device"),
        ("calibrate --microphone nosuch", "--microphone"),
    ],
)
def test_a_command_says_it_before_anything_else(library, words, option, capsys):
    assert main(words.split()) == 1
    said = capsys.readouterr().err
    assert said.startswith(f"tempo-coach: {option}: expected part of the name of") and "there" in said

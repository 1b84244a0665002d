import json
from importlib import metadata
from importlib.metadata import version

import pytest

from tempo_coach.cli import main
from tempo_coach.live.audio.devices import list_devices
from tempo_coach.live.notices import Trouble


def look(capsys):
    assert main(["doctor", "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_what_is_installed_is_told_with_its_version(capsys):
    found = look(capsys)
    assert found["numpy"] == {"works": True, "found": version("numpy"), "next_step": ""}
    assert found["drills"]["works"] and found["sounds"]["works"] and found["takes"]["works"]
    assert {"joblib", "shtab", "history"} <= set(found)
    assert version("av") in found["film"]["found"]
    assert {"sound out", "microphone", "terminal", "key stamps", "film", "browser", "cache"} <= set(found)


def test_everything_that_does_not_work_has_a_next_step(capsys, monkeypatch):
    monkeypatch.setenv("PATH", "")
    there = {"scipy": "1.9.3", "tomlkit": "0.11.99"}

    def version_of(name):
        if name == "av":
            raise metadata.PackageNotFoundError(name)
        return there.get(name) or version(name)

    monkeypatch.setattr(metadata, "version", version_of)
    found = look(capsys)
    assert not found["browser"]["works"]
    assert (found["film"]["works"], found["film"]["found"]) == (False, "av not installed")
    assert found["scipy"]["found"].startswith("1.9.3, which is too old: 1.12")
    assert found["tomlkit"]["next_step"].startswith("pip install 'tomlkit>=0.12'")
    assert all(each["next_step"] for each in found.values() if not each["works"])


def test_the_words_have_a_line_for_each(capsys):
    assert main(["doctor"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert any(line.startswith(("works", "MISSING")) and " microphone " in line for line in lines)
    assert lines[-1].endswith(".")


def test_a_missing_sound_library_is_a_sentence_and_no_error(tmp_path, monkeypatch):
    (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    devices = list_devices()
    assert devices.outputs == devices.inputs == ()
    assert devices.trouble is Trouble.NO_LIBRARY


@pytest.mark.parametrize("body", ["print('noise')", "raise SystemExit(3)"])
def test_a_library_that_misbehaves_is_a_sentence_too(tmp_path, monkeypatch, body):
    (tmp_path / "sounddevice.py").write_text(body)
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    assert list_devices().trouble is Trouble.NOT_OPENED

"""Printing: data on one stream, sentences and progress on the other, files without overwriting."""

import argparse
import io
import json
import os
import sys

import pytest

from tempo_coach.cli import output
from tempo_coach.cli.output import Progress, check_outputs, print_json, say, warn, write_bytes, write_text
from tempo_coach.errors import CoachError
from tests.refused import refused


def test_data_is_one_line_of_json_in_its_own_letters(capsys):
    print_json({"name": "Zoë 🤸", "n": None, "rows": [1.5]})
    print_json([])
    caught = capsys.readouterr()
    assert caught.out == '{"name": "Zoë 🤸", "n": null, "rows": [1.5]}\n[]\n'
    assert caught.err == ""
    assert json.loads(caught.out.splitlines()[0])["name"] == "Zoë 🤸"
    with pytest.raises(ValueError, match="JSON"):
        print_json({"n": float("nan")})


def test_sentences_are_no_data(capsys):
    warn("Ö is odd.")
    say("Working.")
    caught = capsys.readouterr()
    assert (caught.out, caught.err) == ("", "tempo-coach: Ö is odd.\nWorking.\n")


class Screen(io.StringIO):
    def __init__(self, *, live):
        super().__init__()
        self.live = live

    def isatty(self):
        return self.live


@pytest.fixture
def clock(monkeypatch):
    now = [100.0]
    monkeypatch.setattr(output.time, "monotonic", lambda: now[0])
    return now


def shown(monkeypatch, clock, *, live, steps):
    screen = Screen(live=live)
    monkeypatch.setattr(output.sys, "stderr", screen)
    with Progress("hearing the music") as progress:
        for after, share in steps:
            clock[0] = 100.0 + after
            progress(share)
    return screen.getvalue()


def test_what_is_done_within_half_a_second_is_not_mentioned(monkeypatch, clock):
    for live in (True, False):
        clock[0] = 100.0
        assert shown(monkeypatch, clock, live=live, steps=[(0.1, 0.2), (0.49, 0.9)]) == ""


def test_on_a_screen_the_share_is_shown_in_place_and_taken_away(monkeypatch, clock):
    text = shown(monkeypatch, clock, live=True, steps=[(0.5, 0.05), (0.6, 0.0501), (0.7, 1.0)])
    line = "hearing the music …   5%"
    assert text == f"\r{line}\rhearing the music … 100%\r{' ' * len(line)}\r"


def test_in_a_file_it_is_said_once(monkeypatch, clock):
    assert shown(monkeypatch, clock, live=False, steps=[(0.6, 0.1), (0.7, 0.9)]) == "hearing the music …\n"


def test_a_file_is_written_whole_and_replaced_only_when_that_is_allowed(tmp_path):
    path = tmp_path / "Zoë 🤸.txt"
    write_text(path, "süß\n", force=False)
    assert path.read_bytes() == "süß\n".encode()
    with pytest.raises(CoachError) as caught:
        write_bytes(str(path), b"x", force=False)
    assert caught.value.where == str(path)
    assert path.read_bytes() == "süß\n".encode()
    write_bytes(path, b"\0", force=True)
    assert path.read_bytes() == b"\0"
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_that_is_not_there_is_said(tmp_path):
    with pytest.raises(CoachError):
        write_text(tmp_path / "gone" / "a.txt", "x", force=True)


def asked(**options):
    return argparse.Namespace(**{"force": True, "count": 3, "words": ("a", "b"), "nothing": None, **options})


def test_no_output_is_an_input_or_another_output(tmp_path):
    song, taps = tmp_path / "song.wav", tmp_path / "taps.txt"
    for path in (song, taps):
        path.write_text("hers")
    new, link = str(tmp_path / "new"), tmp_path / "link"
    link.symlink_to(song)
    check_outputs(asked(music=str(song), members=[f"Ada={taps}"], out=new, plan=None), "out", "plan")
    for out in (song, link, taps, tmp_path / "." / "song.wav"):
        with refused("--plan: the command reads this file"):
            check_outputs(asked(music=str(song), members=[f"Ada={taps}"], out=new, plan=str(out)), "out", "plan")
    with refused("--out: the command reads this file"):
        check_outputs(asked(out=str(song)), "out", inputs=(song,))
    for other in (new, str(tmp_path / "." / "new")):
        with refused("--plan: the file is the one of --out already"):
            check_outputs(asked(out=new, plan=other), "out", "plan")
    with refused("exists and is not overwritten"):
        check_outputs(asked(out=new, plan=str(taps), force=False), "out", "plan")


@pytest.mark.skipif(sys.platform == "win32", reason="devices are no files there")
def test_devices_may_be_read_and_written_at_once():
    check_outputs(asked(music=os.devnull, out=os.devnull, plan=os.devnull), "out", "plan")

"""What kind a file is, from its bytes: made by independent writers, and by hand where a format says how it begins."""

import io
import struct

import numpy as np
import pytest
import soundfile

from tempo_coach.errors import CoachError
from tempo_coach.music.files.content import check_content, find_other_kind, needs_decoder
from tempo_coach.report.words.errors import message_of
from tests.refused import refused


def written(form, subtype=None):
    held = io.BytesIO()
    soundfile.write(held, np.sin(np.arange(48_000) / 20), 48_000, format=form, subtype=subtype)
    return held.getvalue()


@pytest.mark.parametrize(
    ("form", "subtype", "kind"),
    [
        ("WAV", "PCM_16", "wav"),
        ("RF64", "PCM_16", "wav"),
        ("FLAC", None, "flac"),
        ("OGG", "VORBIS", "ogg"),
        ("OGG", "OPUS", "ogg"),
        ("MP3", None, "mp3"),
        ("AIFF", None, "aiff"),
        ("AU", None, "sound"),
    ],
)
def test_what_another_library_writes_is_known(tmp_path, form, subtype, kind):
    path = tmp_path / "no.name"
    path.write_bytes(written(form, subtype))
    assert check_content(path) == kind
    assert not needs_decoder(path)


def test_an_mp3_with_a_tag_before_it_is_one(tmp_path):
    path = tmp_path / "x"
    path.write_bytes(b"ID3\x04\x00\x00\x00\x00\x00\x00" + written("MP3"))
    assert check_content(path) == "mp3"


@pytest.mark.parametrize(
    ("head", "words", "decoded"),
    [
        (b"\x00\x00\x00\x20ftypM4A ", "MPEG-4", True),
        (b"\x00\x00\x00\x08wide", "QuickTime", True),
        (b"\x1aE\xdf\xa3", "Matroska", True),
        (b"\xff\xf1\x50\x80", "AAC", True),
        (b"RIFF\x00\x10\x00\x00WEBP", "picture", False),
        (b"%PDF-1.7", "a PDF", False),
        (b"MThd\x00\x00", "MIDI", False),
        ("zählen".encode()[:3], "text", False),  # cut inside a letter
        (b"\x00\x01\x02\x03", "unknown kind", False),
    ],
)
def test_what_is_no_plain_sound_is_said_in_words(tmp_path, head, words, decoded):
    error = CoachError("sound.other_kind", kind=find_other_kind(head))
    assert words in message_of(error)
    path = tmp_path / "x"
    path.write_bytes(head)
    assert needs_decoder(path) is decoded


def test_a_wav_is_cut_short_when_its_data_reach_past_its_end_unless_nobody_knew_their_length(tmp_path):
    path, whole = tmp_path / "x.wav", written("WAV")
    place = whole.index(b"data") + 4
    path.write_bytes(whole[:-1])
    with refused("cut short: its end is missing"):
        check_content(path)
    for unknown in (0, 0xFFFF_FFFF):  # as programs write it that stream
        path.write_bytes(whole[:place] + struct.pack("<I", unknown) + whole[place + 4 :])
        assert check_content(path) == "wav"


@pytest.mark.parametrize("missing", [1, 100, 27])
def test_an_ogg_is_cut_short_when_its_last_page_is(tmp_path, missing):
    path, whole = tmp_path / "x.ogg", written("OGG", "VORBIS")
    path.write_bytes(whole[:-missing])
    with refused("cut short"):
        check_content(path)


def test_no_file_needs_no_decoder(tmp_path):
    assert not needs_decoder(tmp_path / "gone")
    assert not needs_decoder(tmp_path)

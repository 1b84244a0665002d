"""The kind of a file, told from its first and last bytes; one plain sentence where it is not sound."""

from __future__ import annotations

import os
import struct
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.resources import check_file, saying_why

if TYPE_CHECKING:
    from pathlib import Path

_MPEG_4, _QUICKTIME, _MATROSKA, _AAC = "mpeg4", "quicktime", "matroska", "aac"
_DECODED = (_MPEG_4, _QUICKTIME, _MATROSKA, _AAC)

# Signatures as the formats give them (EBML, ISO 14496-12, PNG, JFIF, PDF, ZIP), from memory.
_OTHERS: tuple[tuple[bytes, str], ...] = (
    (b"\x1aE\xdf\xa3", _MATROSKA),
    (b"\x00\x00\x01\xba", "mpeg"),
    (b"\x00\x00\x01\xb3", "mpeg"),
    (b"FLV", "flv"),
    (b"\x30\x26\xb2\x75", "windows_media"),
    (b"\x89PNG", "png"),
    (b"\xff\xd8\xff", "jpeg"),
    (b"GIF8", "gif"),
    (b"BM", "bmp"),
    (b"%PDF", "pdf"),
    (b"MThd", "midi"),
    (b"PK\x03\x04", "zip"),
    (b"\x1f\x8b", "gzip"),
    (b"\x7fELF", "program"),
    (b"MZ", "program"),
)


def check_content(path: Path) -> str:
    """Return what kind of sound file it is.

    Parameters
    ----------
    path : pathlib.Path

    Returns
    -------
    str
        ``"wav"``, ``"flac"``, ``"ogg"`` (opus too), ``"mp3"``, ``"aiff"``; ``"sound"``: only trying tells.

    Raises
    ------
    CoachError
        If the file is missing, empty, visibly cut short or of another kind.
    """
    head, tail, size = _look(path)
    if size == 0:
        raise CoachError("sound.empty_file", where=str(path))
    kind = _kind(head)
    if kind is None:
        raise CoachError("sound.other_kind", where=str(path), kind=find_other_kind(head))
    short = {"wav": _wav_cut_short, "ogg": _ogg_cut_short}.get(kind)
    if short is not None and short(head, tail, size):
        raise CoachError("sound.cut_short", where=str(path), kind=kind)
    return kind


def needs_decoder(path: Path) -> bool:
    """Return whether a file needs the optional decoder of films: m4a, aac, mp4, mov, mkv, webm."""
    try:
        check_file(path, what="sound")
        with path.open("rb") as file:
            return find_other_kind(file.read(4096)) in _DECODED
    except (CoachError, OSError):
        return False  # whoever reads it says why


def _look(path: Path) -> tuple[bytes, bytes, int]:
    """Return the first 4 KiB, the last 128 KiB and the size."""
    check_file(path, what="sound")
    with saying_why(path, "opened_sound"), path.open("rb") as file:
        size = file.seek(0, os.SEEK_END)
        file.seek(0)
        head = file.read(4096)
        file.seek(max(0, size - (128 << 10)))
        return head, file.read(), size


def _kind(head: bytes) -> str | None:
    if head[:4] in (b"RIFF", b"RF64", b"RIFX") and head[8:12] == b"WAVE":
        return "wav"
    if head[:4] == b"FORM" and head[8:12] in (b"AIFF", b"AIFC"):
        return "aiff"
    if head[:4] == b"fLaC":
        return "flac"
    if head[:4] == b"OggS":
        return None if b"theora" in head[:128] else "ogg"
    # The two layer bits are zero in AAC, which shares the sync word with mp3.
    if head[:3] == b"ID3" or (head[:1] == b"\xff" and len(head) > 1 and head[1] & 0xE0 == 0xE0 and head[1] & 0x06):
        return None if head[:3] == b"\xff\xd8\xff" else "mp3"
    return None if find_other_kind(head) != _UNKNOWN else "sound"


_UNKNOWN = "unknown"


def find_other_kind(head: bytes) -> str:
    """Return the kind of a file that is not plain sound, from its first bytes."""
    if head[4:8] == b"ftyp":
        return _MPEG_4
    if head[4:8] in (b"moov", b"mdat", b"wide"):
        return _QUICKTIME
    if head[:4] == b"RIFF" and head[8:12] == b"AVI ":
        return "avi"
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "webp"
    if head[:4] == b"OggS":
        return "theora"
    if head[:1] == b"\xff" and len(head) > 1 and head[1] & 0xF6 == 0xF0:
        return _AAC
    for signature, name in _OTHERS:
        if head.startswith(signature):
            return name
    try:
        text = head.decode("utf-8")
    except UnicodeDecodeError as error:
        if error.start < len(head) - 4:
            return _UNKNOWN
        text = head[: error.start].decode("utf-8")
    return "text" if all(letter.isprintable() or letter.isspace() for letter in text) else _UNKNOWN


def _wav_cut_short(head: bytes, _tail: bytes, size: int) -> bool:
    """Return whether the data chunk claims to be longer than the file; 0 or all ones means "not known"."""
    order = ">" if head[:4] == b"RIFX" else "<"
    place = 12
    while place + 8 <= len(head):
        name, length = head[place : place + 4], struct.unpack(f"{order}I", head[place + 4 : place + 8])[0]
        if name == b"data":
            return head[:4] != b"RF64" and 0 < length < 0xFFFF_FF00 and place + 8 + length > size
        place += 8 + length + length % 2
    return size < 44 or place >= size


def _ogg_cut_short(_head: bytes, tail: bytes, _size: int) -> bool:
    """Return whether the last page (RFC 3533, section 6) runs past the end of the file, or none is whole."""
    start = tail.rfind(b"OggS")
    if start < 0 or start + 27 > len(tail):
        return True
    segments = tail[start + 26]
    table = tail[start + 27 : start + 27 + segments]
    return len(table) < segments or start + 27 + segments + sum(table) > len(tail)

"""Marks of removed athletes and takes: a hash with the history's own salt, that reveals neither a name nor a take."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import sqlite3

#: Work that one try of a name costs (scrypt, RFC 7914: some 30 ms and 16 MiB): names are few, and could be guessed.
_WORK = {"n": 2**14, "r": 8, "p": 1}


def salted(connection: sqlite3.Connection, mark: bytes) -> bytes:
    """Return the mark of a removed take: a salted hash of its own, itself a hash of all that was observed."""
    return hashlib.sha256(_salt(connection) + mark).digest()


def mark_name(connection: sqlite3.Connection, name: str) -> bytes:
    """Return the mark of a removed athlete, case-insensitive."""
    return hashlib.scrypt(name.casefold().encode(), salt=_salt(connection), dklen=32, **_WORK)


def is_gone(connection: sqlite3.Connection, mark: bytes) -> bool:
    """Return whether something with this mark was removed."""
    return connection.execute("SELECT 1 FROM gone WHERE mark = ?", (mark,)).fetchone() is not None


def _salt(connection: sqlite3.Connection) -> bytes:
    salt: bytes = connection.execute("SELECT salt FROM salt").fetchone()[0]
    return salt

"""Disks that are slow, or full: made for one benchmark, and gone with it."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

#: Microseconds that a write, a flush to the disk and a renaming wait first: a worn card in a cheap reader.
WRITE, SYNC, RENAME = 3_000, 60_000, 20_000
_SLOW = """
#define _GNU_SOURCE
#include <dlfcn.h>
#include <stdio.h>
#include <sys/stat.h>
#include <unistd.h>
static void hold(int file, int microseconds) {
    struct stat what;
    if (fstat(file, &what) == 0 && S_ISREG(what.st_mode)) usleep(microseconds);
}
#define NEXT(name) static __typeof__(&name) next; if (!next) next = (__typeof__(&name))dlsym(RTLD_NEXT, #name)
ssize_t write(int f, const void *b, size_t n) { NEXT(write); hold(f, WRITE); return next(f, b, n); }
ssize_t pwrite(int f, const void *b, size_t n, off_t at) { NEXT(pwrite); hold(f, WRITE); return next(f, b, n, at); }
ssize_t pwrite64(int f, const void *b, size_t n, off64_t a) { NEXT(pwrite64); hold(f, WRITE); return next(f, b, n, a); }
int fsync(int f) { NEXT(fsync); hold(f, SYNC); return next(f); }
int fdatasync(int f) { NEXT(fdatasync); hold(f, SYNC); return next(f); }
int rename(const char *from, const char *to) { NEXT(rename); usleep(RENAME); return next(from, to); }
"""


def make_slow(folder: Path) -> str | None:
    """Return what a process is to load first (``LD_PRELOAD``) whose disk is slow; None without a compiler."""
    compiler = shutil.which("cc")
    if compiler is None:
        return None
    source, made = folder / "slow.c", folder / "slow.so"
    source.write_text(_SLOW, encoding="ascii")
    times = [f"-DWRITE={WRITE}", f"-DSYNC={SYNC}", f"-DRENAME={RENAME}"]
    built = subprocess.run(
        [compiler, "-shared", "-fPIC", "-O1", *times, "-o", made, source, "-ldl"], capture_output=True, check=False
    )
    return str(made) if built.returncode == 0 else None


@contextlib.contextmanager
def small_disk(folder: Path, mebibytes: int) -> Iterator[bool]:
    """Give a folder a disk of its own, of so many MiB; False where this user may not."""
    folder.mkdir(exist_ok=True)
    size = f"size={mebibytes}m"
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", size, "none", folder], capture_output=True, check=False)
    try:
        yield mounted.returncode == 0
    finally:
        if mounted.returncode == 0:
            subprocess.run(["umount", "-l", folder], capture_output=True, check=False)


@contextlib.contextmanager
def filled(folder: Path, *, free: int) -> Iterator[None]:
    """Fill the disk that a folder lies on, but for so many bytes."""
    ballast = folder / "ballast"
    with ballast.open("wb") as file:
        state = os.statvfs(folder)
        os.posix_fallocate(file.fileno(), 0, max(state.f_bavail * state.f_frsize - free, 4096))
    try:
        yield
    finally:
        ballast.unlink()

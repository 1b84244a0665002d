"""What all tests share: reproducible properties, and parts of the machine that a test may need."""

import gc
import hashlib
import os
import shutil
import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import settings

from tests.compiled import STORE, fetch

# The gate is exact: the same examples every time. Long searches for new ones belong to the benchmarks.
settings.register_profile("gate", derandomize=True, deadline=None, max_examples=60, database=None)
# With the oldest dependencies it is their behaviour that is looked at, which fewer examples show.
settings.register_profile("floors", settings.get_profile("gate"), max_examples=10)
settings.load_profile("gate")

#: No test touches the history, the data or the cache of whoever runs it, and nothing is left behind.
_OWN = tempfile.TemporaryDirectory(prefix="tempo_coach_tests_", ignore_cleanup_errors=True)
os.environ["XDG_CACHE_HOME"] = str(Path(_OWN.name) / "cache")
os.environ["XDG_DATA_HOME"] = str(Path(_OWN.name) / "data")
os.environ["TEMPO_COACH_LANGUAGE"] = "en"  # whatever the system speaks
os.environ["TEMPO_COACH_HISTORY"] = str(Path(_OWN.name) / "history.sqlite")
# compiled functions of librosa are kept by each process for itself: two that fill one store at once can crash
os.environ["NUMBA_CACHE_DIR"] = str(Path(_OWN.name) / "numba")
if os.environ.get(STORE):
    shutil.copytree(os.environ[STORE], os.environ["NUMBA_CACHE_DIR"], ignore=shutil.ignore_patterns("*.pickle"))

#: Set where every part of the machine is there: a test that would skip for a missing one then fails.
NEED_ALL_PARTS = "TEMPO_COACH_NEED_ALL_PARTS"


def skip_for_missing_part(reason: str) -> None:
    """Skip the running test for its reason, or fail it where all parts were promised."""
    if os.environ.get(NEED_ALL_PARTS):
        pytest.fail(f"a part of the machine is missing: {reason}")
    pytest.skip(reason)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with all that play sound: they take their real time."""
    for item in items:
        if "sound_server" in item.fixturenames:
            item.add_marker(pytest.mark.played)
    items.sort(key=lambda item: item.get_closest_marker("played") is None)


def pytest_collection_finish() -> None:
    """Leave out of garbage collection what lives to the end: going through it again and again took a fifth of a gate.

    What the tests themselves leave is looked for less often than usual, but looked for.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> object:
    """Keep a file's tests in one process, and all files that play sound in one: two would disturb each other."""
    from xdist.scheduler import LoadFileScheduling

    @cache
    def plays(file: str) -> bool:
        return "sound_server" in (config.rootpath / file).read_text(encoding="utf-8")

    class ByFile(LoadFileScheduling):
        def _split_scope(self, nodeid: str) -> str:
            file = super()._split_scope(nodeid)
            return "played" if plays(file) else file

    return ByFile(config, log)


@pytest.fixture(scope="session", autouse=True)
def _compose_once():
    """The demo's music is always the same, which has a test of its own: in this process it is made once."""
    from tempo_coach import demo
    from tests.generators.workplace import invented_music

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(demo, "compose", invented_music)
        yield


@pytest.fixture(scope="session", autouse=True)
def _find_once():
    """Commands and screens hear the same music and follow the same films again and again: once is enough.

    What finds beats, follows markers and aligns a film has tests of its own, which call it directly and are not
    answered from here.
    """
    from tempo_coach.music.beats import finder
    from tempo_coach.observe.film import film_take, marker_trace

    follow = marker_trace.follow_film
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(finder, "find_beats", kept(finder.find_beats))
        patch.setattr(film_take, "align_film", kept(film_take.align_film))
        # what was followed names its film, which may lie elsewhere now
        followed = kept(follow)
        patch.setattr(
            marker_trace,
            "follow_film",
            lambda film, *args, **options: replace(followed(film, *args, **options), film=film),
        )
        yield


def kept(find):
    """Return a function that finds the same only once, and tells again what was told while it was found."""
    found = {}

    def find_once(*args, progress=None, warn=None, **options):
        if any(hasattr(each, "slowed") and not Path(each.path).exists() for each in args):  # an invented film
            return find(*args, progress=progress, warn=warn, **options)
        key = hashlib.sha256(repr((find.__name__, *map(_content, args), _content(options))).encode()).hexdigest()
        if key not in found:
            told = []
            found[key] = fetch(key, lambda: (find(*args, progress=progress, warn=told.append, **options), told))
        value, told = found[key]
        for note in told if warn else ():
            warn(note)
        return value

    return find_once


def _content(value):
    """Return what tells one argument from another: samples, a film's bytes, and what else is written out."""
    if hasattr(value, "samples"):
        return hashlib.sha256(np.ascontiguousarray(value.samples).data).hexdigest(), value.rate_hz
    if hasattr(value, "path") and hasattr(value, "slowed"):
        content = hashlib.sha256(Path(value.path).read_bytes()).hexdigest()
        return content, repr(replace(value, path=""))
    if isinstance(value, dict):
        return [(name, _content(each)) for name, each in sorted(value.items())]
    return np.asarray(value).tolist() if isinstance(value, np.ndarray) else repr(value)

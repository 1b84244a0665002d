"""The examples in the docstrings are what comes out: each is run as it stands."""

from __future__ import annotations

import doctest
import pkgutil
from importlib import import_module

import pytest

import tempo_coach

MODULES = sorted(
    each.name
    for each in pkgutil.walk_packages(tempo_coach.__path__, "tempo_coach.")
    if not each.name.endswith("__main__") and ".training" not in each.name  # it needs what trains a network
)


PARTS = sorted({name.split(".")[1] for name in MODULES})


@pytest.mark.parametrize("part", PARTS)
def test_the_examples_of_each_module_run(part: str) -> None:
    here = [name for name in MODULES if name.split(".")[1] == part]
    assert [name for name in here if doctest.testmod(import_module(name)).failed] == []


def test_there_are_examples() -> None:
    """Modules without any pass above whatever happens: here is what must not get lost."""
    finder = doctest.DocTestFinder(exclude_empty=True)
    number = sum(len(each.examples) for name in MODULES for each in finder.find(import_module(name)))
    assert number > 100

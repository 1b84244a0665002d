"""How many small faults, put into a module on purpose, are noticed by its own tests: mutation testing.

A seeded sample of each module's mutants is tried, each in a process of its own, against the test file of the module's
name and those beside it that import it. No file is changed: the faulty module is put in place of the real one as it is
imported. Those that live are printed; many do no harm. ``SAMPLE=60 SEED=3 MODULES="score/card score/scorecard"`` in the
environment ask for more, others, or some.
"""

from __future__ import annotations

import ast
import json
import math
import os
import random
import re
import resource
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

from tests.benchmarks.mutants import Instead, Mutate
from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[2]
SAMPLE, SEED = int(os.environ.get("SAMPLE", "30")), os.environ.get("SEED", "1")
#: Processor seconds beyond those of the tests themselves, wall seconds for each of all these, and bytes beyond which a
#: mutant is noticed: a loop without end, a wait without end, a table without bounds.
LONGEST, WAITS, MOST_MEMORY = 60, 30, 4 << 30
#: Percent of the mutants that must be noticed.
FLOOR = 85
PRODUCT = ROOT / "tempo_coach"
MODULES = [str(path.relative_to(PRODUCT).with_suffix("")) for path in sorted((PRODUCT / "score").rglob("[a-z]*.py"))]
MODULES += ["pattern/plan/plan", "music/counts/count_map"]


def run() -> Iterator[Row]:
    """Yield for each module the percentage of its sampled mutants that a test notices."""
    for module in os.environ.get("MODULES", "").split() or MODULES:
        begin = time.monotonic()
        command = [sys.executable, "-m", "tests.benchmarks.bench_mutation", module]
        done = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True, cwd=ROOT)
        tried, lived = json.loads(done.stdout.splitlines()[-1])
        for each in lived:
            print(f"    {each}", file=sys.stderr)
        what = f"{module}: noticed of {tried}, in {time.monotonic() - begin:.0f} s"
        yield Row(what, 100 * (1 - len(lived) / tried), "%", floor=FLOOR, better="high")


class Quick:
    """A part of pytest: a fault is noticed once it is found, and need not be made small."""

    def pytest_sessionstart(self):
        """Begin after tests/conftest.py has chosen its profile."""
        from hypothesis import Phase, settings

        settings.register_profile("quick", settings.default, phases=[Phase.explicit, Phase.generate])
        settings.load_profile("quick")


def find_tests(module: str) -> list[str]:
    """Return the test file of a module's name, and those beside it that import it."""
    folder, name = module.rsplit("/", 1)
    package = folder.replace("/", r"\.")
    imports = re.compile(rf"^from tempo_coach\.{package}(\.{name} import| import.*\b{name}\b)", re.MULTILINE)
    own = ROOT / "tests" / folder / f"test_{name}.py"
    near = sorted((ROOT / "tests" / folder.split("/")[0]).rglob("test_*.py"))
    beside = [path for path in near if imports.search(path.read_text(encoding="utf-8"))]
    return [str(path) for path in dict.fromkeys([own, *beside]) if path.exists()]


def try_all(module: str) -> tuple[int, list[str]]:
    """Return how many mutants were tried, and those that no test noticed."""
    # takes over warnings as it is imported, which pytest puts back: a second run in its process could not
    import astropy.stats  # noqa: F401
    import pytest

    path = ROOT / "tempo_coach" / f"{module}.py"
    tests = find_tests(module)

    def check() -> int:
        return pytest.main(["-x", "-q", *tests], plugins=[Quick()])

    begin = time.process_time()
    if check():
        sys.exit(f"{module}: its tests fail as it stands: {' '.join(tests)}")
    longest = math.ceil(LONGEST + 2 * (time.process_time() - begin))
    # what comes from outside stays loaded for all; the project and its tests come fresh in every process
    for name in [name for name in sys.modules if name.split(".")[0] in {"tempo_coach", "tests"}]:
        del sys.modules[name]
    text = path.read_text(encoding="utf-8")
    count = Mutate(-1)
    count.visit(ast.parse(text))
    chosen = random.Random(f"{SEED} {module}").sample(range(count.seen), min(SAMPLE, count.seen))
    lived = []
    for number in (-1, *sorted(chosen)):
        mutate = Mutate(number)
        tree = mutate.visit(ast.parse(text))
        if not (child := os.fork()):
            for stream in (1, 2):
                os.dup2(os.open(os.devnull, os.O_WRONLY), stream)
            signal.alarm(WAITS * longest)
            resource.setrlimit(resource.RLIMIT_CPU, (longest, longest))
            resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
            code = 1
            try:
                sys.meta_path.insert(0, Instead(f"tempo_coach.{module.replace('/', '.')}", path, tree))
                code = check()
            finally:
                os._exit(code)
        held = os.waitpid(child, 0)[1] == 0
        if number < 0 and not held:
            sys.exit(f"{module}: its tests fail in a process of their own, without any fault")
        if number >= 0 and held:
            lived.append(mutate.said)
    return len(chosen), lived


if __name__ == "__main__":
    print(json.dumps(try_all(sys.argv[1])))

"""The gate: ``python -m tests`` runs format, lint, types, layers and tests, and says what each took.

It ends with the first part that fails, except that the tests are always run last and whole.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tempo_coach.cli import ONE_THREAD
from tests import SIDE_BY_SIDE
from tests.compiled import STORE

ROOT = Path(__file__).parent.parent
RUN = (sys.executable, "-m")
#: One more than there are cores: what plays sound, or waits in a terminal, leaves its core to the others.
WORKERS = str(min((os.cpu_count() or 1) + 1, 4))
PARTS = {
    "format": (*RUN, "ruff", "format", "--check", "."),
    "lint": (*RUN, "ruff", "check", "."),
    "types": (*RUN, "mypy", "--num-workers", str(os.cpu_count() or 1)),
    "layers": (sys.executable, "-c", "from importlinter.cli import lint_imports_command as run; run()"),
    "tests": (*RUN, "pytest", *SIDE_BY_SIDE, "-n", WORKERS, "--durations=8", *sys.argv[1:]),
}

for name in ONE_THREAD:  # two workers on two cores: threads of theirs would wait for each other
    os.environ.setdefault(name, "1")
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # hundreds of processes would each compile the whole program anew
seconds: dict[str, float] = {}
failed: list[str] = []
compiled = Path(tempfile.mkdtemp(prefix="tempo_coach_compiled_"))
compiling = subprocess.Popen([*RUN, "tests.compiled", str(compiled)], cwd=ROOT)  # beside the parts before the tests
for name, command in PARTS.items():
    print(f"== {name}", flush=True)
    begin = time.monotonic()
    if name == "tests" and compiling.wait() == 0:
        os.environ[STORE] = str(compiled)
    if subprocess.run(command, cwd=ROOT, check=False).returncode:
        failed.append(name)
    seconds[name] = time.monotonic() - begin
shutil.rmtree(compiled)
print("\nseconds by part: " + ", ".join(f"{name} {took:.1f}" for name, took in seconds.items()))
print(f"all: {sum(seconds.values()):.1f} s" + (f"; FAILED: {', '.join(failed)}" if failed else "; everything holds"))
sys.exit(1 if failed else 0)

"""Run the benchmarks: ``python -m tests.benchmarks [NAME ...]`` prints one table.

Each ``bench_NAME.py`` beside this file has ``run() -> Iterable[Row]``. What depends on the machine or takes long
stands here and not in the gate.
"""

import importlib
import sys
from pathlib import Path

from tests.benchmarks.table import print_rows

names = [path.stem.removeprefix("bench_") for path in sorted(Path(__file__).parent.glob("bench_*.py"))]
asked = sys.argv[1:] or names
unknown = [name for name in asked if name not in names]
if unknown:
    sys.exit(f"no benchmark named {', '.join(unknown)}; there are: {', '.join(names)}")
held = True
for name in asked:
    held &= print_rows(name, importlib.import_module(f"tests.benchmarks.bench_{name}").run())
sys.exit(0 if held else 1)

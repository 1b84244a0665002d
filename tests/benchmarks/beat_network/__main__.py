"""The steps from music to weights, one command each.

``scores OUT`` reads the old tunes and chorales; ``make FOLDER OUT FIRST COUNT PROCESSES`` makes examples with the
sound fonts (``*.sf3``) and ``scores.jsonl`` of a folder; ``train EXAMPLES OUT SEED SECONDS`` trains (PyTorch, an
accelerator), also while examples are still being made; ``export WEIGHTS`` puts the weights into the package;
``judge [FONT]`` prints the table with and without the network, on a sound font of your choice.
"""

import sys
from pathlib import Path

if len(sys.argv) < 2:
    sys.exit(__doc__)
verb, *rest = sys.argv[1:]
if verb == "scores":
    from tests.benchmarks.beat_network.scores import extract

    extract(Path(rest[0]), most=900)
elif verb == "make":
    from tests.benchmarks.beat_network.make import make

    make(Path(rest[0]), Path(rest[1]), first=int(rest[2]), count=int(rest[3]), processes=int(rest[4]))
elif verb == "train":
    from tests.benchmarks.beat_network.train import train

    options = {key: int(value) for key, value in (each.split("=") for each in rest[4:])}
    train(Path(rest[0]), Path(rest[1]), seed=int(rest[2]), seconds=float(rest[3]), **options)
elif verb == "export":
    from tests.benchmarks.beat_network.export import export

    export(Path(rest[0]))
elif verb == "judge":
    from tests.benchmarks.beat_network.judge import judge

    judge(*rest)
else:
    sys.exit(__doc__)

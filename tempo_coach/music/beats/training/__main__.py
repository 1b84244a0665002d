"""The command of each step from music to weights; the package's head says what they take."""

import sys
from pathlib import Path

from tempo_coach.music.beats import training

if len(sys.argv) < 2:
    sys.exit(training.__doc__)
verb, *rest = sys.argv[1:]
if verb == "scores":
    from tempo_coach.music.beats.training.scores import extract

    extract(Path(rest[0]), most=900)
elif verb == "make":
    from tempo_coach.music.beats.training.make import make

    make(Path(rest[0]), Path(rest[1]), first=int(rest[2]), count=int(rest[3]), processes=int(rest[4]))
elif verb == "train":
    from tempo_coach.music.beats.training.train import train

    options = {key: int(value) for key, value in (each.split("=") for each in rest[4:])}
    train(Path(rest[0]), Path(rest[1]), seed=int(rest[2]), seconds=float(rest[3]), **options)
elif verb == "export":
    from tempo_coach.music.beats.training.export import export

    export(Path(rest[0]))
else:
    sys.exit(training.__doc__)

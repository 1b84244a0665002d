"""The training of the network that hears beats, and the music that it is trained on; not a part of the wheel.

Each step is a command, ``python -m tempo_coach.music.beats.training STEP ...``:

``scores OUT``
    reads old tunes and chorales (music21) into OUT, a file of JSON lines.
``make FOLDER OUT FIRST COUNT PROCESSES``
    makes examples with the sound fonts (``*.sf3``) and ``scores.jsonl`` of a folder (FluidSynth).
``train EXAMPLES OUT SEED SECONDS``
    trains (PyTorch, an accelerator), also while examples are still being made.
``export WEIGHTS``
    puts the weights into the package.

``remote.sh`` sets up a bare machine for the middle two. What comes of it is judged on music that it was not trained
on, from outside the package: ``python -m tests.benchmarks.beat_set [FONT]``.
"""

#!/bin/sh
# Sets up a bare machine: FluidSynth's library with what it needs, and the sound fonts that were carried to it.
set -e
mkdir -p /tmp/beat/fonts /tmp/beat/examples
if [ -f .beatnet/libs.tar.xz ]; then python3 -c "import tarfile; tarfile.open('.beatnet/libs.tar.xz').extractall('/tmp/beat', filter='data')"; fi
for file in .beatnet/*.sf3 .beatnet/scores.jsonl; do if [ -f "$file" ]; then cp "$file" /tmp/beat/fonts/; fi; done
ls -la /tmp/beat /tmp/beat/fonts; nproc; python3 -c "import torch, numpy, scipy; print(torch.__version__, numpy.__version__, scipy.__version__)"

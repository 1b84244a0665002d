"""From samples to beats: features, network, evidence, tempo, decoding, downbeats, doubts; from taps; their files."""

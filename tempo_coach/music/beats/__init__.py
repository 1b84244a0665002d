"""Beats of samples: features, network, evidence, tempo, decoding, downbeats, doubts; beats of taps; their files."""

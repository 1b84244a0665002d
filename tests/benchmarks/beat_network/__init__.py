"""Makes, trains, exports and judges the network that hears beats; see ``python -m tests.benchmarks.beat_network``."""

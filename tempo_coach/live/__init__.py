"""The live part: samples made ahead, the audio process, keys, and the course of a practice."""

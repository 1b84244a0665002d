"""The audio process and its two ends: devices, samples, what was played when, what was lost; or a silent clock."""

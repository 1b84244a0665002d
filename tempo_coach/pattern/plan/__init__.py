"""A pattern laid on counts: moments and cues on the take clock, and their JSON."""

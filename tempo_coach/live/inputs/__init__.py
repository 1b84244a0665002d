"""Keys, microphone and claps, stamped where they arrive."""

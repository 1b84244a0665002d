"""Keys, microphone and claps, and whatever else is stamped where it arrives: lines, messages, MIDI, streams."""

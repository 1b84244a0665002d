"""Music: from a sound file to beats and counts of eight, and back to sound.

``files`` reads, writes and stretches sound. ``beats`` finds beats, bars and eights in samples. ``counts`` numbers them
in counts of eight and applies the coach's corrections. ``cutting`` shortens a piece on its counts.
"""

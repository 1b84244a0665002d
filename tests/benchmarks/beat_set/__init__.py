"""Music whose beats are known: what the finder of beats is developed on.

Scores in the public domain and music made up by rule are bent in tempo, played by a General MIDI sound font and kept
as sound with the exact times of their beats. The finder is tuned on this set alone.
"""

"""Sound recordings: from samples to onsets.

``alignment`` finds the music of the plan in the recording (``windows``, ``common_line``) and so the line between the
two clocks; ``residual`` cancels that music, ``detector`` finds contacts, claps or syllables in what is left, with the
settings of ``kinds``, and ``sound_take`` assigns them to hands on the take clock.
"""

"""Cutting music on its counts.

``cut_list`` says which stretches follow each other, ``kept_words`` reads them as typed. ``joints`` moves each end to an
attack (``attacks``, ``matched_sides``, ``musical_key``), ``ending`` finds the last accent, ``render`` makes the
samples, and ``moved_counts`` carries the counts along.
"""

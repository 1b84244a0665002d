"""Beats, downbeats and eights.

``finder.find_beats`` is the entry; it calls, in this order, ``features`` (onset strength, chroma), ``network``
(activations), ``evidence`` (log odds of both), ``tempo`` (tempogram and prior), ``decode`` (Viterbi search),
``bar_search`` or ``downbeats`` (bars and eights), ``metrical_level``, ``breaks``, ``unsure`` and ``doubts``. ``tapped``
takes beats from taps instead, ``beat_files`` and ``midi`` from files, and ``heard_before`` from an earlier run.
"""

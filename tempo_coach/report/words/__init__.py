"""Words: sentences and lines of text, and the plain values that stand beside them in JSON.

A module for each kind of result: ``card``, ``group``, ``trace``, ``toss``, ``sheet``, ``history`` and so on.
``sentence`` picks the one thing to work on, ``measures`` names measures, ``reasons`` has a sentence for each code of
:class:`tempo_coach.reasons.Why`, and ``errors`` one for each code of an error.
"""

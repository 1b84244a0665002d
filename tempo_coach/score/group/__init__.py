"""Groups: who is early, where they fall apart, who left, who follows whom.

``group.judge_group`` makes the ``card``. Before it, members are put on one plan (``own_beat``, ``own_moments``,
``pace``, ``turns``, ``formation``, ``canon``, ``one_recording``, ``crosstalk``); then ``timing`` models their lateness,
``leaving`` and ``sides`` look for those who went another way, ``following`` for who corrects to whom, ``together`` and
``eights`` say when. ``now`` is the short answer while they still move.
"""

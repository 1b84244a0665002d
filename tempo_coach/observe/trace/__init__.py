"""Tables of sensors and trackers: from text to cycles, circles and onsets.

Reading: ``tables`` with ``delimited``, ``header``, ``stamps``, ``untold`` and ``long_table``. Finding what repeats:
``period_candidates``, ``cycle_choice``, ``cycles``, ``phase_following``. Circles within a cycle: ``circles`` of a
point, ``inertial`` of a sensor, ``carried`` where one rotation is superposed on another. ``tracked_body`` is the result
for one point or sensor, ``trace_take`` puts it on the take clock, and ``flights`` finds tosses.
"""

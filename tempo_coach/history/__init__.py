"""Takes, onsets, scorecards and notes of athletes over the weeks, in one SQLite file on this machine.

The only user of ``sqlite3``. :class:`~tempo_coach.history.store.Store` opens the file,
:class:`~tempo_coach.history.takes.History` puts takes in and finds them, :mod:`tempo_coach.history.forget` removes an
athlete for good, and :mod:`tempo_coach.history.progress` says whether it gets better.
"""

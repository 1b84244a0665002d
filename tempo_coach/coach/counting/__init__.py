"""Setting the counts of a piece of music, without a screen.

``setting`` holds the state in hand, undo and redo included, as pure values. ``edits`` changes it at the cursor,
``tapping`` takes taps along to the music, ``listening`` plays a stretch with clicks on its counts, and ``cut_in_hand``
tries a cut out. The screen that draws all this is in :mod:`tempo_coach.ui.counts`.
"""

"""The course of a practice as a pure state machine.

``session`` is the state, ``course.step`` the transition: an event in, the next state and its effects out. ``hand_keys``
assigns keys to hands, and ``last_word`` and ``worn_cycles`` judge cycles while the take is still running.
"""

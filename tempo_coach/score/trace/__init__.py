"""Traces and throws, by themselves and beside what a drill asks.

``study`` sums up a trace: cycles, circles, lags (``body_lag``), flights. ``learn`` makes a drill of a good take and
compares a take with a drill. ``throws`` and ``boomerang`` judge flights against the plan, ``take_sizes`` the sizes of
circles.
"""

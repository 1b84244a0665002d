"""Measures: formulas over columns of numbers, each with its source.

``timekeeping.MEASURES`` is the registry of a scorecard's single numbers. The formulas are in ``period``, ``phase``,
``lags``, ``circular``, ``levels`` (clock and motor variance), ``steadiness`` and ``parts``, their confidence intervals
in ``intervals``. A formula never withholds a value; the scorecard decides what the data can support.
"""

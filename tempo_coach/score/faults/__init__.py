"""Faults: what happened in a take, as ranked findings with confidences.

``models`` has the covariances of lateness and the shapes of faults, ``likelihood`` holds a take against them,
``detection`` finds single faults, ``broken`` the cycles and moments concerned, and ``verdict`` ranks the whole.
``findings`` is the value that comes out, ``equivalents`` the kinds that a plan cannot tell apart.
"""

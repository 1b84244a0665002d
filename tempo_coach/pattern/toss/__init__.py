"""Tosses.

``toss.Toss`` is a flight in a vacuum, ``drag`` the same in air for one of the ``bodies``. ``solver`` finds a toss from
whatever is known, by ``relations``; ``release`` computes what a release error does to the catch. ``moves`` fits
movements into the flight, and ``flight_moments`` finds releases and catches in a plan.
"""

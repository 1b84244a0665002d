"""Delays of this set-up, measured and kept.

``measuring`` opens the devices and runs a measurement. The estimates are pure: ``delays`` from taps and key strokes,
``chirps`` from loudspeaker to microphone, ``knocks`` from phones. ``calibration`` keeps the results by device.
"""

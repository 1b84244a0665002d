"""Live inputs: onsets and readings, each time-stamped on arrival.

``source`` is the interface of an input, ``arriving`` the base of those whose rows come one at a time: ``lines``,
``osc``, ``pads`` (MIDI) and ``lsl``. ``key_stamps`` reads keys in a process of its own. ``microphone`` puts recorded
samples on the take clock, and ``clap``, ``clap_listener`` and ``clap_start`` let a clap start a practice.
"""

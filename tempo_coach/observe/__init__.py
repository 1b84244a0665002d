"""Observation: from taps, contact sounds, films and sensor traces to onsets on the take clock."""

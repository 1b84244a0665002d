"""Onsets and takes: their columns, their file while it grows and afterwards, clocks."""

"""Screens: a thin shell that draws values and hands events on."""

"""Mixing: a plan, its music and its cue sounds become samples before the take begins.

``mix`` does it for takes, live and exported alike, so that both are the same samples. ``spoken`` supplies counts and
words of a recorded voice, and ``clicks`` puts a click or a number on every count, for coaches and for films of counts.
"""

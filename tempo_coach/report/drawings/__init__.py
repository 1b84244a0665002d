"""Drawings, in text and as SVG.

``drill`` draws a movement, ``unroll`` its cycles one below the other, ``dial`` the places of circles in the cycle,
``flight`` a toss. ``svg`` makes elements, ``moving`` encodes films, and ``plain`` leaves drawings out for screen
readers.
"""

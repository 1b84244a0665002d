"""Vocabulary of headers: quantities, units, times, and words without meaning; accents left out.

Whole in English, German, French, Spanish and Italian; of others the words for time, acceleration and turning.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from tempo_coach.observe.trace.trace import Quantity

QUANTITIES: dict[str, Quantity] = {
    **dict.fromkeys(("pos", "loc", "location", "coord", "marker", "p", "ort"), "position"),
    **dict.fromkeys(("acc", "accel", "acce", "a", "linacc", "force", "besch"), "acceleration"),
    **dict.fromkeys(("gyr", "rot", "omega", "ω", "angvel", "w", "g", "angular", "angulaire", "angolare"), "rotation"),
    **dict.fromkeys(("mag", "quat", "q", "m", "euler", "angle", "temp", "winkel", "angulo", "angolo"), "other"),
    **dict.fromkeys(("roll", "pitch", "yaw", "champ", "campo", "likelihood", "confidence"), "other"),
    **dict.fromkeys(("gravity", "attitude", "heading"), "other"),
}
#: How longer words begin, accents left out.
QUANTITY_STEMS: tuple[tuple[str, Quantity], ...] = (
    ("posi", "position"),
    ("coord", "position"),
    ("koord", "position"),
    ("accel", "acceleration"),
    ("aceler", "acceleration"),
    ("beschl", "acceleration"),
    ("gyro", "rotation"),
    ("girosc", "rotation"),
    ("drehr", "rotation"),
    ("drehg", "rotation"),
    ("winkelg", "rotation"),
    ("rotat", "rotation"),
    ("rotac", "rotation"),
    ("rotaz", "rotation"),
    ("magnet", "other"),
    ("quatern", "other"),
    ("cuatern", "other"),
    ("orient", "other"),
    # Danish, Norwegian, Swedish, Dutch, Finnish, Polish, Czech, Turkish, Russian and Bulgarian, Ukrainian, Japanese
    ("aksel", "acceleration"),
    ("versnel", "acceleration"),
    ("kiihtyv", "acceleration"),
    ("przys", "acceleration"),
    ("zrychl", "acceleration"),
    ("ivme", "acceleration"),
    ("ускор", "acceleration"),
    ("приско", "acceleration"),
    ("加速度", "acceleration"),
    ("vinkelh", "rotation"),
    ("hoeksnel", "rotation"),
    ("kulmano", "rotation"),
    ("zyro", "rotation"),
    ("гирос", "rotation"),
)
#: Words that say nothing about which point it is.
EMPTY_WORDS = {
    "sensor",
    "data",
    "value",
    "rate",
    "linear",
    "without",
    "incl",
    "user",
    "raw",
    "axis",
    "achse",
    "axe",
    "eje",
}
EMPTY_WORDS |= {
    "asse",
    "wert",
    "valeur",
    "valor",
    "valore",
    "lineare",
    "lineal",
    "lineaire",
    "lin",
    "of",
    "de",
    "del",
    "der",
}
EMPTY_WORDS |= {"di", "du", "des", "della", "dell"}
SPEED_WORDS = {"speed", "velocity", "vel", "v", "vitesse", "velocidad", "velocita", "geschwindigkeit"}
SPEED_WORDS |= {"hastighet", "hastighed", "snelheid", "nopeus", "predkosc", "rychlost", "hiz", "скорость", "скорост"}
#: A quantity's length over all axes.
LENGTH_WORDS = {
    "magnitude",
    "magnitud",
    "absolute",
    "absolut",
    "abs",
    "norm",
    "norme",
    "norma",
    "betrag",
    "module",
    "total",
}
LENGTH_WORDS |= {
    "modulo",
    "modulus",
    "totale",
    "gesamt",
    "resultant",
    "resultante",
    "resultierende",
    "length",
    "absolue",
}
#: Words that say that gravity was taken out.
FREE_WORDS = {"linear", "user", "without", "linacc", "lin", "lineare", "lineal", "lineaire"}

#: Unit, in the spelling of :func:`_spell_unit`: what it measures, the unit inside, and the factor to it.
UNITS: dict[str, tuple[Quantity, str, float]] = {
    "m": ("position", "m", 1.0),
    "cm": ("position", "m", 0.01),
    "mm": ("position", "m", 0.001),
    "px": ("position", "px", 1.0),
    **dict.fromkeys(("m/s2", "m/s/s", "ms2", "ms-2", "mpers2", "mps2", "mss"), ("acceleration", "m/s²", 1.0)),
    "g": ("acceleration", "m/s²", 9.80665),
    "mg": ("acceleration", "m/s²", 0.00980665),
    **dict.fromkeys(("rad/s", "rads", "rads-1", "radpers", "radps", "rps"), ("rotation", "rad/s", 1.0)),
    **dict.fromkeys(("deg/s", "degs", "degs-1", "degpers", "degps", "dps"), ("rotation", "rad/s", float(np.pi / 180))),
    **dict.fromkeys(("m/s", "cm/s", "mm/s", "km/h", "deg", "rad", "ut", "µt", "gauss", "%", "hz"), ("other", "", 1.0)),
}
UNIT_SPELLINGS = (
    (r"[²]|\^2|\*\*2", "2"),
    (r"⁻", "-"),
    (r"¹", "1"),
    (r"[\s_·⋅*^.]", ""),
    (r"(?:degrees?|grad[ios]*|degres?|°)", "deg"),
    (r"(?:radians?|radiant[ei]?|radianes)", "rad"),
    (r"(?:met(?:re|er)s?)", "m"),
    (r"(?:pixels?)", "px"),
    (r"sec(?:onds?)?", "s"),
)
TIME_WORDS = {"time", "t", "ts", "timestamp", "timestamps", "stamp", "elapsed", "epoch", "clock", "unix"}
TIME_WORDS |= {"date", "datetime", "zeit", "zeitstempel", "uhrzeit", "temps", "heure", "horodatage", "tiempo", "hora"}
TIME_WORDS |= {"tempo", "ora", "tid", "tidspunkt", "tidsstempel", "tijd", "tijdstempel", "aika", "czas", "cas"}
TIME_WORDS |= {"zaman", "timp", "ido", "време", "время", "час", "時間"}

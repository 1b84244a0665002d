"""Measures: formulas over columns of numbers, each with its source; none of them withholds anything."""

"""The screen on which counts are set: sheet, keys, questions."""

"""Setting counts, without a screen: the state in hand, its steps, and listening with clicks."""

"""The history screen.

``screen`` filters, opens, compares and exports takes; ``rows`` and ``kept`` draw the list, its trend, and one take or
two side by side.
"""

"""Phones in the gym: clocks, rows, who may join, the server's process, its pages, and the program's side of it."""

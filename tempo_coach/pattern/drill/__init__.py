"""A movement as phases and circles, a way of practising it, and the file that people write."""

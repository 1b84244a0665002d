"""Takes and their onsets.

``onsets`` has both as columns. ``take_writer`` appends to the file of a running take, ``take_file`` reads it,
``unfinished`` finds takes that were broken off. ``clock`` fits one clock to another, and ``key_repeats`` recognises a
key that was held.
"""

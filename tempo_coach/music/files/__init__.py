"""Sound files.

``sound.Sound`` is samples and a rate. ``sound_file`` reads and writes it, through ``container`` where a film's decoder
is needed; ``content`` recognises a file by its bytes. ``stretch`` changes the speed and keeps the pitch, ``loudness``
and ``programme_loudness`` measure level, and ``blocks`` holds long recordings.
"""

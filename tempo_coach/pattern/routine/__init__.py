"""A routine: its music, its corrected counts, and what is laid on its eights.

``routine.Routine`` holds it; ``routine_file`` and ``routine_writer`` read and write TOML and keep the coach's comments.
``run_through`` makes one plan of all of it, ``cut_places`` carries places along when the music is cut, and ``rules``
checks lengths against the tables in ``codes``.
"""

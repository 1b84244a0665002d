"""A movement and a way of practising it.

``pattern.Pattern`` is one cycle: phases and circles by hand. ``drill.Drill`` adds how it is practised. ``drill_file``
reads both from TOML through ``toml_tables``, which reports every problem at once; ``template`` writes a first file to
edit. ``count_names`` converts between positions and counts as a coach says them.
"""

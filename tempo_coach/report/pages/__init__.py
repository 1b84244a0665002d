"""Pages: self-contained HTML for the screen, for paper and as PDF.

``page`` renders the templates beside these modules; ``plot`` makes axes and marks, ``pictures`` the pictures of a take.
The other modules are one page each: ``take``, ``group``, ``athlete``, ``gymnast``, ``coachs_table``, ``todays_list``,
``sheet``, ``cards``, ``film``, ``clip`` and ``library``.
"""

"""Reports: the only place where values become words and pictures.

``words`` makes sentences, lines of text and the JSON beside them, ``drawings`` text drawings and SVG, ``pages`` HTML.
Nothing that is made here is read again by the program.
"""

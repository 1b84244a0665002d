"""Pages: self-contained HTML with pictures in SVG, for the screen, paper and PDF."""

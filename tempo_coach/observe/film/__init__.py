"""Films: frames, spots of colour, paths, a trace; or where the picture moves; or instants marked by hand."""

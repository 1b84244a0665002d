"""Tables of sensors and trackers: read, their period found, cycles and circles counted, flights, put on a plan."""

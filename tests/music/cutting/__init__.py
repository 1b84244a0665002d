"""Music cut and joined on its counts."""

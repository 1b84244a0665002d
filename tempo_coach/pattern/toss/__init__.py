"""A toss: what follows from a flight of so many counts, in a vacuum and in air, and from a release that is off."""

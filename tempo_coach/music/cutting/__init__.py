"""Music cut and joined on its counts: attacks, joints, keys, loudness, and the samples that come of them."""

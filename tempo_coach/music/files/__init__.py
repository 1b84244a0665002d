"""Sound files: any format to samples, samples to files, stretching, loudness."""

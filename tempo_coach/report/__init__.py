"""Reports: sentences, drawings and pages made of values."""

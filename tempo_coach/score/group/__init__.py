"""A group: who is early, where it falls apart and who left, who follows whom, canons, exchanges."""

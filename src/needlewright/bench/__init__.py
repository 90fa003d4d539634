"""A run at the bench: tell every dial a check point, wait until it stands, look, keep the row."""

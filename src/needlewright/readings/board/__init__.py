"""Two photos of one side of a circuit board laid over each other, and what changed."""

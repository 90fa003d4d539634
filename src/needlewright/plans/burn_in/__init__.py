"""Burn-in: what is to be expected of it beforehand, and what one unit's run shows by itself."""

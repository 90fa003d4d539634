"""Burn-in: a cluster left running for hours, every event timed, with pictures around it."""

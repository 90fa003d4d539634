"""Tolerance rules with their sources, decisions with guard bands, rest limits."""

"""What to repair, replace, watch and leave, by expected cost, and the order of the work."""

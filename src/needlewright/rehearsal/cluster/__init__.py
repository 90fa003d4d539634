"""A simulated cluster on a real bus: it hears frames, turns needles as firmware would, is seen."""

"""How a needle stands over the face: height, thickness, pitch, from photos of one at rest."""

"""A family from a photo nobody has described before: rough clicks in, a checked folder out."""

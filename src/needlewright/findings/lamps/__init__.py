"""What the light of a face says: lamps out or dim, signs that stay dark, displays that fade."""

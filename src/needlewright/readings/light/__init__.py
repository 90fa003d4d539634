"""From photos of a lit face to light: how bright each part of it is beside the others."""

"""How far down a needle is pressed: the stack of lengths from the face to the lens."""

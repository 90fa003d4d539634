"""What to do about it: the needle-set instruction."""

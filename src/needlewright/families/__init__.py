"""What a cluster design is: face, dials, scales, needles, programme."""

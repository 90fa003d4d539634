"""What a shop can do to a cluster: operations, the ways in, parts, weak points, and their cost."""

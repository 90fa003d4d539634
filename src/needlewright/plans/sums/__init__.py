"""The sums of the workbench: each a pure function with its source, described once."""

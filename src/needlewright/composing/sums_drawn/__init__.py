"""The drawing of each sum: its result handed to what draws it."""

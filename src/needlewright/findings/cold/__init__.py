"""Cold: where a movement starts to slip or stall, and whether that is cold enough for winter."""

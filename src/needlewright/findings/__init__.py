"""What is wrong: faults named from runs, tracks and series, each with how sure."""

"""What we command: from a value on a dial to what goes on the wires, and back."""

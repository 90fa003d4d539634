"""What a vehicle's diagnostic port said over time: logs of it, and the value at one moment."""

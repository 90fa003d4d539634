"""What turns a needle: motors, gears, friction, stops, and the firmware that drives them."""

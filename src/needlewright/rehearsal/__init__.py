"""A simulated cluster: the drawn face and the camera before it."""

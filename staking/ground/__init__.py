"""Points to the elevation of the ground, with its uncertainty, anywhere."""

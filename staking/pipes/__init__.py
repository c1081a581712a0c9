"""Posts, beams and joints to pieces, pieces to sticks, proven; holes and concrete."""

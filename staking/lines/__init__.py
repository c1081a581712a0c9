"""Boundaries, areas, buried and overhead lines and trees: what comes near them, and by how much."""

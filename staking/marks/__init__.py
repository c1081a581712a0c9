"""How to find it all in the yard: stations, offsets, swing ties, diagonals, hubs, cut marks."""

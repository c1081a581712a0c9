"""Lengths and angles between text and numbers: the only place that reads and prints them."""

"""Stake-out, pier lengths and cut list for a pipe-framed ground-mounted solar array on uneven ground."""

__version__ = "0.1.0"

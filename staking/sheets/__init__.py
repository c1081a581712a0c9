"""The plan as neutral tables and drawings, one file a sheet."""

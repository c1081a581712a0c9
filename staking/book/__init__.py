"""The field book: one declaration per table, the readings as typed, the folder read in, starters out."""

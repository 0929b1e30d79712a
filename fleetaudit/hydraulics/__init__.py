"""Equations of backwashing beds: numpy arrays in SI units in and out, no files, no state but small tables."""

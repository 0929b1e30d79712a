"""Hydraulics against published values, reference libraries and plain arithmetic."""

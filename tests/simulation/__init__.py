"""Fleets whose truth is known, to hold the audit's probabilities against."""

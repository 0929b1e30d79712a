"""The checks: one file for each defect, listed in `registry`."""

"""Every column and every quantity of the tool, spelled once."""

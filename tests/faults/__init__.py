"""Everything that can be wrong with what the user gives, and what the tool must answer."""

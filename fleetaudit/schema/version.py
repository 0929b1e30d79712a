"""Version of the tool; pyproject.toml holds the same (tested)."""

VERSION = "0.1.0"

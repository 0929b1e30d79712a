"""Fleets too large to be held at once, in parts; engines stay outside the audit."""

"""Frames and findings to files: the only floor that creates files."""

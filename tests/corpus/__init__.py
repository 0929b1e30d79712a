"""Workbooks as people and programs make them: each is audited, then compared part by part and by value."""

"""Spreadsheet files as files: read them safely, annotate them without touching what is not ours."""

"""A frame, a catalogue and a date to findings and verdicts; no files, no clock."""

"""Which crews, years and housings come with wrong set-ups more often than their jobs explain."""

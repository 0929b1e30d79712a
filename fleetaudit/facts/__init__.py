"""What is known of each unit, worked out once and shared by the checks."""

"""From due units to crew days: visits, distances, plans, and why a visit waits."""

"""backwash."""

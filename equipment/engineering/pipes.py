"""pipes."""

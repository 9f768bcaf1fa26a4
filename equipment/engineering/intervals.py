"""intervals."""

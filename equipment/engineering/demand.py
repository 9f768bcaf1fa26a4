"""demand."""

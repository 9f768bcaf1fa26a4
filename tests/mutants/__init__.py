"""Faults planted one at a time, to see whether a test notices."""

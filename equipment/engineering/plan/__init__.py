"""A whole system worked out in the order of its water, and what does not fit."""

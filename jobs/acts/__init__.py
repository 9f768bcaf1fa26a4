"""From an act as it is told to the workflow that does it, and to its answer."""

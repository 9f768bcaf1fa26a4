"""Properties of water, water in a well, its balance and its gases."""

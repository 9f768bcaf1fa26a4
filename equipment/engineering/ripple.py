"""How even a pulsed feed is."""

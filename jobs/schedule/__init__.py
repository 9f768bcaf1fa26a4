"""When, and who is free."""

"""What a page shows, before anything of HTTP."""

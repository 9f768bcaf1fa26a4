"""A record from and to rows: loaded, compared with the start-up, put on paper."""

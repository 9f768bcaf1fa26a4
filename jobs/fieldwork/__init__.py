"""A technician's record read without Django: what is asked, answered, computed and judged."""

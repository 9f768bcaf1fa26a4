"""The fixtures that start real processes, for every file here."""

from .test_serve import database_url, environment

__all__ = ["database_url", "environment"]

"""Geometry of the charts; templates draw what is worked out here."""

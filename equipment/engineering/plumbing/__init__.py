"""Pressure tanks, pipes and the draw of a house."""

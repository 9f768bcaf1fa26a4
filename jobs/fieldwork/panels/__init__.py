"""Panels: a calculation fed by what is typed, answered and on file."""

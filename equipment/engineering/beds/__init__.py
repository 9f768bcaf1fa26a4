"""Vessels of media: flow, backwash, expansion, intervals, softening."""

"""Demand for an oxidant, its solution, the feeder, and dialing it in."""

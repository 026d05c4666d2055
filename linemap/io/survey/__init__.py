"""Readers of what was surveyed: shots, facts and tolerances."""

"""Frozen values and pure rules of the trade: lines, structures, shots, checks, events, holds."""

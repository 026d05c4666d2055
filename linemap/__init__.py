"""Check, map and record the building of wood H-frame power lines."""

__version__ = "0.1.0"

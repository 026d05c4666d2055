"""Readers of what is designed: centrelines, structures, poles, guys, crossings and framing types."""

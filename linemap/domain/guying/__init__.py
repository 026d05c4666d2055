"""Anchors and guys: where they are designed and where they were set."""

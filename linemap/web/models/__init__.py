"""Answers and requests of the pages, one file a noun."""

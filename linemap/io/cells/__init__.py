"""Rows and cells: tables, headers and their meaning, numbers, degrees, dates and positions."""

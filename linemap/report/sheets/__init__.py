"""Sheets of paper, one module each; all stand on `linemap.report.paper`."""

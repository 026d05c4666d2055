"""One cause for many exceptions: its signatures, evidence and consequences, and what a person decides."""

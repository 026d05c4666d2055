"""The kinds of lists there are, each declared once; one file a noun, and the registry of all."""

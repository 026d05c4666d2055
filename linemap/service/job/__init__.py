"""A job as stored, its rules and its combined factor."""

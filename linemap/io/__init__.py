"""Files in and out: bytes to rows, rows to meaning, meaning to domain values with their problems."""

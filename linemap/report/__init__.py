"""Documents out of domain values: map page, sketches, the single-file snapshot."""

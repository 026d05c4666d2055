"""Lists as they are declared: what each field is, and what follows from that alone."""

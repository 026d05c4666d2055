"""Where holes and bolts go: framing types, marks, digging, braces, material bundles and blocks."""

"""The whole job computed: figures, panels, payloads, evidence and marks."""

"""Use cases: one function a use case, joining files, rules and the job database."""

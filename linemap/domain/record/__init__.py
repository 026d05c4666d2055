"""What was done, as events: their chain, the fold to a status, workflow, claims, punch items, people."""

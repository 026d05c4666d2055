"""Progress pages, charts and words."""

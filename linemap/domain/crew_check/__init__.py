"""A crew's own check of a frame, before the backfill is tamped: by tape or by rover, and what it tells."""

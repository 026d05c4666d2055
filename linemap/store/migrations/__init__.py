"""The tables of a job as they came to be, one file a change; run by Alembic."""
